//! What warms a place beside the weather: engine, brakes, exhaust and sun.

use serde::{Deserialize, Serialize};

/// What warms a place beside the weather. Zero kelvin leave a cause out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Warming {
    /// Engine and exhaust, when warm and the car stands, K.
    pub engine_k: f64,
    /// They cool down with this time constant, h.
    pub engine_decay_h: f64,
    /// Brakes, when warm, K.
    pub brake_k: f64,
    /// They cool down with this time constant, h.
    pub brake_decay_h: f64,
    /// Sun that stands at right angles on this side of the car, K.
    pub sun_k: f64,
    /// Direction this side faces from the car's nose, degrees clockwise (90: the
    /// right side).
    pub side_deg: f64,
}

impl Default for Warming {
    fn default() -> Self {
        Warming {
            engine_k: 0.0,
            engine_decay_h: 1.0,
            brake_k: 0.0,
            brake_decay_h: 0.4,
            sun_k: 0.0,
            side_deg: 180.0,
        }
    }
}
