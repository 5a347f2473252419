//! How the car is controlled.

use serde::{Deserialize, Serialize};

/// What the controller brings to its preset.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum By {
    /// The height of each circuit, mm.
    Height,
    /// The pressure of each circuit, kPa gauge.
    Pressure,
}

/// The three presets: mm, or kPa gauge, for the first and the other axle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Presets {
    /// To get in, or for the show.
    pub low: [f64; 2],
    /// For the road.
    pub drive: [f64; 2],
    /// Over rough ground.
    pub high: [f64; 2],
}

impl Default for Presets {
    fn default() -> Self {
        Presets {
            low: [-40.0, -42.0],
            drive: [0.0, 0.0],
            high: [32.0, 30.0],
        }
    }
}

/// The controller.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ControllerSettings {
    /// What it controls.
    pub by: By,
    /// Where the presets are.
    pub presets: Presets,
    /// A commanded move is done within this, mm or kPa.
    pub move_tolerance: f64,
    /// A deviation beyond this is corrected, mm or kPa …
    pub correct_tolerance: f64,
    /// … when it lasts this long with the ignition on, s.
    pub correct_after_s: f64,
    /// It stays awake this long after a command or a drive, s.
    pub awake_s: f64,
    /// Tank refill starts below this, kPa gauge.
    pub cut_in_kpa_gauge: f64,
    /// And ends above this.
    pub cut_out_kpa_gauge: f64,
    /// The second compressor starts this long after the first, s.
    pub second_after_s: f64,
    /// A refill may start while valves are at work; else it waits for them.
    pub refill_while_moving: bool,
    /// A valve is never held open longer, s.
    pub longest_opening_s: f64,
}

impl Default for ControllerSettings {
    fn default() -> Self {
        ControllerSettings {
            by: By::Height,
            presets: Presets::default(),
            move_tolerance: 3.0,
            correct_tolerance: 7.0,
            correct_after_s: 25.0,
            awake_s: 240.0,
            cut_in_kpa_gauge: 900.0,
            cut_out_kpa_gauge: 1_150.0,
            second_after_s: 2.0,
            refill_while_moving: false,
            longest_opening_s: 25.0,
        }
    }
}
