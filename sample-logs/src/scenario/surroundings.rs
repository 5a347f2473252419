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
    /// Rise of the mean temperature, K per week; 0 leaves the season out.
    pub season_k_per_week: f64,
    /// Weather fronts per week; 0 leaves them out.
    pub fronts_per_week: f64,
    /// A front moves the air pressure to somewhere within ± this, kPa …
    ///
    /// **Source**: ±3 kPa about the standard atmosphere (common practice, no source).
    pub front_kpa: f64,
    /// … and the temperature within ± this, K.
    pub front_k: f64,
    /// Latitude for the sun, degrees.
    pub latitude_deg: f64,
    /// The sun stands behind houses or hills below this elevation, degrees.
    pub horizon_deg: f64,
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
            season_k_per_week: 0.0,
            fronts_per_week: 0.0,
            front_kpa: 3.0,
            front_k: 4.0,
            latitude_deg: 48.0,
            horizon_deg: 8.0,
        }
    }
}
