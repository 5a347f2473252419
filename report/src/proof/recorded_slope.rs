//! How far a corner sinks for the air it loses, as it was recorded.

use crate::analysis::air::Vessel;
use crate::analysis::segment::{Rest, RestPoint};
use seep_common::physics::gas::{ANR_K, amount_anr_l};

/// Millimetres per litre (ANR) lost at rest, and its relative standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RecordedSlope {
    pub(super) mm_per_anr_l: f64,
    pub(super) relative_se: f64,
}

/// A rest tells the slope when its height fell by this much, mm: well above the creep of
/// rubber and the noise of sensors (common practice, no source).
const LEAST_FALL_MM: f64 = 4.0;

/// The state at either end of a rest is the mean over this, s.
const END_S: f64 = 900.0;

/// Relative error where only one rest tells it: how load moves to the other corners
/// differs from height to height (common practice, no source).
const ONE_REST: f64 = 0.15;

/// Ratio of all falls to all air lost over the rests that fell. A sinking corner hands
/// load to the others: its pressure falls too, so it sinks less than its volume table
/// at constant pressure says. `None` where no rest fell far enough.
pub(super) fn recorded_slope(rests: &[Rest], vessel: &Vessel) -> Option<RecordedSlope> {
    let own = rests.iter().filter(|r| r.place == vessel.place);
    let falls: Vec<(f64, f64)> = own
        .filter_map(|r| {
            let (begin, end) = (state(r, true, vessel)?, state(r, false, vessel)?);
            Some((begin.0 - end.0, begin.1 - end.1))
        })
        .filter(|(mm, litres)| *mm >= LEAST_FALL_MM && *litres > 0.0)
        .collect();
    let sums = falls.iter().fold((0.0, 0.0), |s, f| (s.0 + f.0, s.1 + f.1));
    let slope = sums.0 / sums.1;
    let k = falls.len() as f64;
    let relative_se = match falls.len() {
        0 => return None,
        1 => ONE_REST,
        _ => {
            // Variance of a ratio estimator.
            let squares: f64 = falls.iter().map(|f| (f.0 - slope * f.1).powi(2)).sum();
            let scatter = (squares / (k - 1.0) / k).sqrt() / (sums.0 / k);
            scatter.max(ONE_REST / k.sqrt())
        }
    };
    Some(RecordedSlope {
        mm_per_anr_l: slope,
        relative_se,
    })
}

/// Mean height, mm, and amount of air, ANR L, at an end of a rest.
fn state(rest: &Rest, begin: bool, vessel: &Vessel) -> Option<(f64, f64)> {
    let (first, last) = (rest.points.first()?.t_s, rest.points.last()?.t_s);
    let near = |p: &&RestPoint| {
        let away = if begin { p.t_s - first } else { last - p.t_s };
        away <= END_S && !p.mm.is_nan()
    };
    let points = rest.points.iter().filter(near);
    let amount = |p: &RestPoint| {
        let kelvin = if p.kelvin.is_nan() { ANR_K } else { p.kelvin };
        amount_anr_l(p.kpa_abs, vessel.volume_l(p.mm), kelvin)
    };
    let sums = points.fold((0.0, 0.0, 0.0), |s, p| {
        (s.0 + p.mm, s.1 + amount(p), s.2 + 1.0)
    });
    (sums.2 > 0.0).then(|| (sums.0 / sums.2, sums.1 / sums.2))
}
