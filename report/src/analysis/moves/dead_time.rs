//! Time by which air flows shorter than the coil is driven.

use super::super::stats::{median, robust_sd};
use super::Move;

/// Time that a pulse of a path loses, s: from the coil to the flow, less from the coil
/// let go to the end of the flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DeadTime {
    /// Seconds per pulse.
    pub seconds: f64,
    /// Its standard error, s.
    pub se: f64,
}

/// What is known of it before a move is seen: solenoid valves of this size take 30 to
/// 130 ms to open and 10 to 60 ms to close. Common practice, no source.
const PRIOR: DeadTime = DeadTime {
    seconds: 0.03,
    se: 0.05,
};

/// Both bends are seen this well at best, s: a valve does not open at once.
const BENDS_SE_S: f64 = 0.006;

/// Moves with both bends that tell more than the prior.
const FEWEST_BENDS: usize = 3;

/// Dead time of a path, by where the flow of each of its moves begins and ends. It belongs
/// to the valve: how the air of long and short openings differs would tell it too, but
/// not of a path whose conductance changes meanwhile.
pub(super) fn dead_time(own: &[&Move]) -> DeadTime {
    let lost = own
        .iter()
        .filter_map(|m| Some((m.timing.starts_ms? - m.timing.stops_ms?) / 1000.0));
    let lost: Vec<f64> = lost.collect();
    let (Some(middle), Some(spread)) = (median(&lost), robust_sd(&lost)) else {
        return PRIOR;
    };
    if lost.len() < FEWEST_BENDS {
        return PRIOR;
    }
    DeadTime {
        seconds: middle,
        // Standard error of a median: 1.25 times that of a mean.
        se: (1.25 * spread / (lost.len() as f64).sqrt()).hypot(BENDS_SE_S),
    }
}
