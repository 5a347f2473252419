//! Outside temperature and pressure.

use crate::rng::{Noise, Wander};
use crate::scenario::Surroundings;
use seep_common::physics::atmosphere::{LAPSE_K_PER_M, pressure_at_altitude_kpa_abs};
use seep_common::units::ICE_POINT_K;

/// The outside.
#[derive(Debug, Clone)]
pub struct Weather {
    /// Temperature, K.
    pub kelvin: f64,
    /// Pressure, Pa absolute.
    pub pa: f64,
    /// Altitude, m.
    pub altitude_m: f64,
    story: Surroundings,
    cloud: Wander,
    front: Wander,
}

impl Weather {
    /// The outside at a time of day.
    #[must_use]
    pub fn new(story: &Surroundings, seed: u64, unix_s: f64) -> Self {
        let mut weather = Weather {
            kelvin: ICE_POINT_K,
            pa: 0.0,
            altitude_m: story.altitude_m,
            story: story.clone(),
            cloud: Wander::new(Noise::new(seed, "cloud"), story.cloud_k, story.cloud_s),
            front: Wander::new(
                Noise::new(seed, "front"),
                story.weather_kpa,
                story.weather_s,
            ),
        };
        weather.step(unix_s, 0.0);
        weather
    }

    /// Let `dt_s` pass until `unix_s`.
    pub fn step(&mut self, unix_s: f64, dt_s: f64) {
        let hour = unix_s / 3600.0 - self.story.warmest_hour;
        let day = libm::cos(std::f64::consts::TAU * (hour / 24.0));
        let climbed = self.altitude_m - self.story.altitude_m;
        self.kelvin =
            ICE_POINT_K + self.story.mean_c + self.story.swing_k * day + self.cloud.step(dt_s)
                - LAPSE_K_PER_M * climbed;
        self.pa = 1000.0 * (pressure_at_altitude_kpa_abs(self.altitude_m) + self.front.step(dt_s));
    }
}

/// Follow a temperature with a time constant.
pub(super) fn follow(kelvin: &mut f64, outside_k: f64, time_constant_s: f64, dt_s: f64) {
    let keep = libm::exp(-dt_s / time_constant_s);
    *kelvin = outside_k + (*kelvin - outside_k) * keep;
}
