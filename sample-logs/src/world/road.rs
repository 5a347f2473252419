//! Speed over a drive, and what the road does to the body.

use crate::rng::{Noise, Wander};

/// The car on the road.
#[derive(Debug, Clone)]
pub struct Road {
    /// Speed, km/h.
    pub kmh: f64,
    target_kmh: f64,
    until_s: f64,
    noise: Noise,
    shake: Vec<Wander>,
}

/// Acceleration in ordinary traffic, km/h per second.
const GENTLE_KMH_S: f64 = 4.5;

/// It stands this long at the start and comes to rest this long before the end, s.
const STAND_S: f64 = 25.0;

/// Time the body needs to forget a bump, s: about a sixth of the period of
/// 1 Hz that air-sprung bodies move with.
const BUMP_S: f64 = 0.16;

impl Road {
    /// A standing car.
    #[must_use]
    pub fn new(seed: u64, corners: usize) -> Self {
        let shake = |i| Wander::new(Noise::new(seed, &format!("shake {i}")), 1.0, BUMP_S);
        Road {
            kmh: 0.0,
            target_kmh: 0.0,
            until_s: 0.0,
            noise: Noise::new(seed, "road"),
            shake: (0..corners).map(shake).collect(),
        }
    }

    /// Stop at once: the stage is over.
    pub fn stand(&mut self) {
        self.kmh = 0.0;
        self.target_kmh = 0.0;
        self.until_s = 0.0;
    }

    /// Drive for `dt_s`; `into_s` and `left_s` are the time since the ignition
    /// came on and until it goes off.
    pub fn drive(&mut self, flow_kmh: f64, into_s: f64, left_s: f64, dt_s: f64) {
        if into_s >= self.until_s {
            self.until_s = into_s + self.noise.between(15.0, 50.0);
            let stops = self.noise.chance(0.12);
            let pace = self.noise.between(0.55, 1.2);
            self.target_kmh = if stops { 0.0 } else { flow_kmh * pace };
        }
        let wanted = if into_s < STAND_S || left_s < STAND_S + self.kmh / GENTLE_KMH_S {
            0.0
        } else {
            self.target_kmh
        };
        let most = GENTLE_KMH_S * dt_s;
        self.kmh += (wanted - self.kmh).clamp(-most, most);
        for shake in &mut self.shake {
            shake.step(dt_s);
        }
    }

    /// Movement of the body at a corner, in standard deviations at 60 km/h.
    #[must_use]
    pub fn shake(&self, corner: usize) -> f64 {
        self.shake[corner].value * (self.kmh / 60.0).sqrt()
    }
}
