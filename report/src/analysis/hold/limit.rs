//! When a hold's loss is named a leak, and the smallest leak it would name.

use super::input::{Conditions, Readings};
use super::regression::posterior_se;
use crate::analysis::estimate::Estimate;
use crate::analysis::stats::student_t_quantile;

/// A leak is named where its loss is above zero at this one-sided level: one false
/// alarm in 200 holds of a tight volume.
pub const NAMED_AT: f64 = 0.995;
/// Power of the printed limit.
const POWER: f64 = 0.95;

/// Smallest true loss that this hold would have named in 95 of 100 such holds:
/// `(t₀.₉₉₅ + t₀.₉₅)·se`.
///
/// **Units**: those of the estimate. **Source**: the very rule that names a leak, by the
/// scheme of ISO 11843-1 (critical value and detectable value).
///
/// ```
/// use seep_report::analysis::{estimate::Estimate, hold::detection_limit};
/// let e = Estimate { value: 0.0, se: 1.0, degrees_of_freedom: 1e9 };
/// assert!((detection_limit(&e) - (2.5758 + 1.6449)).abs() < 1e-3);
/// ```
#[must_use]
pub fn detection_limit(loss: &Estimate) -> f64 {
    let df = loss.degrees_of_freedom.max(1.0);
    (student_t_quantile(NAMED_AT, df) + student_t_quantile(POWER, df)) * loss.se
}

/// Whether a loss is named a leak.
pub(super) fn is_named(loss: &Estimate) -> bool {
    let df = loss.degrees_of_freedom.max(1.0);
    loss.value > student_t_quantile(NAMED_AT, df) * loss.se
}

/// A hold that has not been made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Design {
    /// Length, s.
    pub length_s: f64,
    /// Time from the volume's last own move to its start, s.
    pub since_move_s: f64,
}

/// Smallest loss that another hold of the same volume would show, 1/s: the same noise,
/// sampling and sensors, another length and waiting time.
///
/// `None` where the hold at hand gives no noise.
#[must_use]
pub fn expected_limit(
    design: Design,
    readings: &Readings,
    conditions: &Conditions,
    noise_ln: f64,
) -> Option<f64> {
    let n = readings.t_s.len();
    let every_s = (readings.t_s.last()? - readings.t_s.first()?) / (n.checked_sub(1)? as f64);
    let kpa_abs = crate::analysis::stats::mean(&readings.kpa_abs)?;
    let planned = Readings {
        t_s: (0..=(design.length_s / every_s) as usize)
            .map(|i| i as f64 * every_s)
            .collect(),
        kpa_abs: vec![kpa_abs; (design.length_s / every_s) as usize + 1],
        volume_l: Vec::new(),
    };
    let conditions = Conditions {
        since_move_s: Some(design.since_move_s),
        ..*conditions
    };
    let se = posterior_se(&planned, &conditions, noise_ln)?;
    let df = (planned.t_s.len() as f64 - 2.0).max(1.0);
    Some(detection_limit(&Estimate {
        value: 0.0,
        se,
        degrees_of_freedom: df,
    }))
}
