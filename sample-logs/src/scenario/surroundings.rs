//! Weather, altitude and road.

use serde::{Deserialize, Serialize};

/// Weather, altitude and road.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Surroundings {
    /// Mean over the day, °C.
    pub mean_c: f64,
    /// Half the swing over the day, K.
    pub swing_k: f64,
    /// Hour of the day (UTC) with the highest temperature.
    pub warmest_hour: f64,
    /// Clouds and wind, standard deviation, K …
    pub cloud_k: f64,
    /// … over this time, s.
    pub cloud_s: f64,
    /// Weather's part of the air pressure, standard deviation, kPa …
    pub weather_kpa: f64,
    /// … over this time, s.
    pub weather_s: f64,
    /// Altitude at the start, m.
    pub altitude_m: f64,
    /// Body movement at 60 km/h, standard deviation of height, mm.
    pub road_mm: f64,
    /// Share of friction that is left while the road shakes the car.
    pub shaken_friction: f64,
}

impl Default for Surroundings {
    fn default() -> Self {
        Surroundings {
            mean_c: 13.0,
            swing_k: 6.0,
            warmest_hour: 14.0,
            cloud_k: 0.7,
            cloud_s: 5_400.0,
            weather_kpa: 0.5,
            weather_s: 60_000.0,
            altitude_m: 180.0,
            road_mm: 4.0,
            shaken_friction: 0.15,
        }
    }
}
