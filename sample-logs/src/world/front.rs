//! Weather fronts: air pressure and temperature that move for hours and stay.

use crate::rng::Noise;
use crate::scenario::Surroundings;

/// The fronts of a log.
#[derive(Debug, Clone)]
pub(super) struct Fronts {
    per_s: f64,
    most: (f64, f64),
    noise: Noise,
    left_s: f64,
    goal: (f64, f64),
    /// Air pressure, kPa, and temperature, K, above the mean.
    pub(super) now: (f64, f64),
    next_s: f64,
}

impl Fronts {
    pub(super) fn new(story: &Surroundings, seed: u64) -> Self {
        let mut fronts = Fronts {
            per_s: story.fronts_per_week / (7.0 * 86_400.0),
            most: (story.front_kpa, story.front_k),
            noise: Noise::new(seed, "fronts"),
            left_s: 0.0,
            goal: (0.0, 0.0),
            now: (0.0, 0.0),
            next_s: f64::INFINITY,
        };
        if fronts.per_s > 0.0 {
            fronts.now = fronts.somewhere();
            fronts.goal = fronts.now;
            fronts.next_s = fronts.wait_s();
        }
        fronts
    }

    fn somewhere(&mut self) -> (f64, f64) {
        let (kpa, kelvin) = self.most;
        (
            self.noise.between(-kpa, kpa),
            self.noise.between(-kelvin, kelvin),
        )
    }

    fn wait_s(&mut self) -> f64 {
        -libm::log(1.0 - self.noise.uniform()) / self.per_s
    }

    pub(super) fn step(&mut self, dt_s: f64) {
        if self.left_s > 0.0 {
            let share = (dt_s / self.left_s).min(1.0);
            self.now.0 += share * (self.goal.0 - self.now.0);
            self.now.1 += share * (self.goal.1 - self.now.1);
            self.left_s -= dt_s;
        }
        self.next_s -= dt_s;
        if self.next_s <= 0.0 {
            self.goal = self.somewhere();
            // Passes in 3 to 15 hours (common practice, no source).
            self.left_s = 3600.0 * self.noise.between(3.0, 15.0);
            self.next_s = self.left_s + self.wait_s();
        }
    }
}
