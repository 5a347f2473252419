//! The smallest step that a channel really makes.

use super::stats::quantile;
use serde::{Deserialize, Serialize};

/// Differences kept of one session.
const MOST_OF_SESSION: usize = 2_000;

/// Differences kept in all; later sessions add nothing.
const MOST: usize = 40_000;

/// Differences needed before they count.
const FEWEST: usize = 50;

/// Differences below this are rounding of single precision, as a share of the
/// stored step.
const ROUNDING: f64 = 0.01;

/// More than one count, less than two.
const COUNTS_OF_A_STEP: f32 = 1.5;

/// Real count of a channel: the stored step, or the step that its source makes
/// where that is coarser (8 kPa of a J1939 pressure stored in 0.1 kPa).
///
/// It is the 5 % quantile of the changes seen between neighbouring readings, which
/// is the smallest common one.
///
/// **Units**: those of the channel.
///
/// **Source**: common practice, no source.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(crate) struct Count {
    stored: f64,
    changes: Vec<f64>,
    real: f64,
}

impl Count {
    pub(crate) fn new(stored: f64) -> Self {
        Count {
            stored,
            changes: Vec::new(),
            real: stored,
        }
    }

    /// Takes the readings of a session, in time order.
    pub(crate) fn push(&mut self, values: &[f32]) {
        let left = MOST.saturating_sub(self.changes.len()).min(MOST_OF_SESSION);
        let before = self.changes.len();
        let least = self.stored * ROUNDING;
        let change = |w: &[f32]| f64::from((w[1] - w[0]).abs());
        let changes = values.windows(2).map(change).filter(|d| *d > least);
        // Of a long session the parts are looked at evenly: a drive alone makes
        // large changes.
        let stride = (values.len() / (4 * MOST_OF_SESSION)).max(1);
        self.changes.extend(changes.step_by(stride).take(left));
        if self.changes.len() > before.max(FEWEST) {
            let common = quantile(&self.changes, 0.05).unwrap_or(0.0);
            self.real = self.stored.max(common);
        }
    }

    pub(crate) fn value(&self) -> f64 {
        self.real
    }

    /// Smallest change that can be a move, of at least `usual`: one count up or down may be
    /// no more than air that cools, or a slow leak.
    pub(crate) fn step(&self, usual: f32) -> f32 {
        usual.max(COUNTS_OF_A_STEP * self.real as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_step_of_the_source_is_found_behind_a_finer_one_of_the_log() {
        let mut count = Count::new(0.1);
        assert_eq!(count.value(), 0.1);
        let coarse: Vec<f32> = (0..500_u16).map(|i| f32::from((i / 3) % 7) * 8.0).collect();
        count.push(&coarse);
        assert!((count.value() - 8.0).abs() < 1e-6, "{}", count.value());
        assert_eq!((count.step(4.0), count.step(20.0)), (12.0, 20.0));
        let mut fine = Count::new(0.1);
        fine.push(
            &(0..500_u16)
                .map(|i| 0.1 * f32::from(i % 9))
                .collect::<Vec<_>>(),
        );
        assert!((fine.value() - 0.1).abs() < 1e-6, "{}", fine.value());
    }
}
