//! A bin of samples on its way to becoming a tick.

use super::Tick;
use crate::time::BootMs;

/// Sums of what arrived in a stretch of time.
#[derive(Debug, Clone)]
pub(super) struct Bin {
    pub t_ms: BootMs,
    /// Sum and number of each channel's samples.
    sums: Vec<(f64, u32)>,
}

impl Bin {
    pub(super) fn new(t_ms: BootMs, channels: usize) -> Self {
        Bin {
            t_ms,
            sums: vec![(0.0, 0); channels],
        }
    }

    /// Empty it for another stretch of time.
    pub(super) fn reset(&mut self, t_ms: BootMs) {
        self.t_ms = t_ms;
        self.sums.fill((0.0, 0));
    }

    #[inline]
    pub(super) fn add(&mut self, channel: usize, value: f64) {
        let (sum, n) = &mut self.sums[channel];
        *sum += value;
        *n += 1;
    }

    /// Add all of another bin; its own start time is kept.
    pub(super) fn merge(&mut self, other: &Bin) {
        for ((sum, n), (add, more)) in self.sums.iter_mut().zip(&other.sums) {
            *sum += add;
            *n += more;
        }
    }

    /// Means, rounded to each channel's resolution, halves away from zero.
    pub(super) fn to_tick(&self, resolutions: &[f64]) -> Tick<BootMs> {
        let counts = self
            .sums
            .iter()
            .zip(resolutions)
            .map(|(&(sum, n), resolution)| {
                (n > 0).then(|| (sum / f64::from(n) / resolution).round() as i64)
            })
            .collect();
        Tick {
            t_ms: self.t_ms,
            counts,
        }
    }
}
