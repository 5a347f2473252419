//! What a quantity does over a recording.

use crate::seeded::Seeded;

/// Step of the course, ms.
const STEP_MS: i64 = 100;

/// Values every [`STEP_MS`], straight between.
#[derive(Debug, Clone)]
pub(super) struct Course {
    values: Vec<f64>,
}

/// A number from 0 to 1.
pub(super) fn share(random: &mut Seeded) -> f64 {
    (random.bits() >> 11) as f64 / (1u64 << 53) as f64
}

/// About standard normal: twelve shares (variance 1/12 each).
fn normal(random: &mut Seeded) -> f64 {
    (0..12).map(|_| share(random)).sum::<f64>() - 6.0
}

impl Course {
    /// A corner's pressure, kPa: moves of 5 to 25 kPa/s between levels from 250
    /// to 900, one every quarter to three quarters of a minute.
    pub(super) fn moves(random: &mut Seeded, length_ms: i64) -> Self {
        let level = |random: &mut Seeded| 250.0 + 650.0 * share(random);
        let mut value = level(random);
        let (mut target, mut rate) = (value, 10.0);
        let mut wait = 0;
        let values = (0..=length_ms / STEP_MS)
            .map(|_| {
                if wait == 0 {
                    target = level(random);
                    rate = 5.0 + 20.0 * share(random);
                    wait = 150 + random.below(300);
                }
                wait -= 1;
                let most = rate * STEP_MS as f64 / 1000.0;
                value += (target - value).clamp(-most, most);
                value
            })
            .collect();
        Course { values }
    }

    /// Another quantity that follows this one: 40 to 130 % of it, and a wander of
    /// its own of 10 to 60 kPa (standard deviation) over about half a minute.
    pub(super) fn follower(&self, random: &mut Seeded) -> Self {
        let gain = 0.4 + 0.9 * share(random);
        let deviation = 10.0 + 50.0 * share(random);
        let keep = (-(STEP_MS as f64) / 30_000.0).exp();
        let kick = deviation * (1.0 - keep * keep).sqrt();
        let mut own = deviation * normal(random);
        let values = (self.values.iter())
            .map(|v| {
                own = keep * own + kick * normal(random);
                gain * v + own
            })
            .collect();
        Course { values }
    }

    /// A wander of a sensor that has nothing to do with the gauge.
    pub(super) fn wander(random: &mut Seeded, length_ms: i64) -> Self {
        let step = 0.5 + 6.0 * share(random);
        let mut value = 500.0;
        let values = (0..=length_ms / STEP_MS)
            .map(|_| {
                value = (value + step * normal(random)).clamp(0.0, 1000.0);
                value
            })
            .collect();
        Course { values }
    }

    pub(super) fn at(&self, t_ms: i64) -> f64 {
        let last = self.values.len() - 1;
        let place = (t_ms.max(0) as f64 / STEP_MS as f64).min(last as f64);
        let below = place as usize;
        let part = place - below as f64;
        self.values[below] * (1.0 - part) + self.values[(below + 1).min(last)] * part
    }
}
