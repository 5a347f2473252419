//! Outside temperature and pressure.

use super::atmosphere::{LAPSE_K_M, standard_kpa};
use super::constants::ZERO_CELSIUS_K;
use super::front::Fronts;
use crate::rng::{Noise, Wander};
use crate::scenario::Surroundings;

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
    fronts: Fronts,
    start_unix_s: f64,
}

impl Weather {
    /// The outside at a time of day.
    #[must_use]
    pub fn new(story: &Surroundings, seed: u64, unix_s: f64) -> Self {
        let mut weather = Weather {
            kelvin: ZERO_CELSIUS_K,
            pa: 0.0,
            altitude_m: story.altitude_m,
            story: story.clone(),
            fronts: Fronts::new(story, seed),
            start_unix_s: unix_s,
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
        self.fronts.step(dt_s);
        let weeks = (unix_s - self.start_unix_s) / (7.0 * 86_400.0);
        let season_k = self.story.season_k_per_week * weeks;
        self.kelvin =
            ZERO_CELSIUS_K + self.story.mean_c + self.story.swing_k * day + self.cloud.step(dt_s)
                - LAPSE_K_M * climbed
                + (self.fronts.now.1 + season_k);
        let standard_kpa = standard_kpa(self.altitude_m);
        self.pa = 1000.0 * (standard_kpa + self.front.step(dt_s) + self.fronts.now.0);
    }

    /// Share of the sun's beam that the clouds leave: less while they cool.
    pub(super) fn clear(&self) -> f64 {
        (0.6 + 0.4 * self.cloud.value / self.cloud.spread.max(0.1)).clamp(0.0, 1.0)
    }

    /// Latitude and hidden horizon, degrees.
    pub(super) fn sky_deg(&self) -> (f64, f64) {
        (self.story.latitude_deg, self.story.horizon_deg)
    }
}

/// Follow a temperature with a time constant.
pub(super) fn follow(kelvin: &mut f64, outside_k: f64, time_constant_s: f64, dt_s: f64) {
    let keep = libm::exp(-dt_s / time_constant_s);
    *kelvin = outside_k + (*kelvin - outside_k) * keep;
}
