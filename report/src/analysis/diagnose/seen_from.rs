//! How large a fault must have been for this log to show it.

use super::super::delivery::{DeliveryTrend, runs_needed};
use super::super::estimate::Estimate;
use super::super::moves::{Direction, MoveTrend};
use super::super::stats::student_t_quantile;
use super::late::{GROWTH_P, LEAST_MS, LagGrowth};
use super::path_rank::MATES_ALIKE;
use super::paths::{CHANGE_P, FEWEST_MATES, SLOWED, SLOWER_THAN_MATE};
use super::shared::shared_change;
use super::{LEAST_WEAR_PERCENT, WEAR_P};

/// Chance that a fault of the size told is found.
const POWER: f64 = 0.95;

/// Smallest true size that is found with 95 % certainty by a rule that calls a
/// value when it is above `least` and its one-sided p value is below `p`:
/// `max(least, t(1−p)·se) + t(0.95)·se`.
///
/// The error of the first kind is the rule's own p, that of the second 5 %; for
/// `p = 0.05` and no least size it is the detection limit of ISO 11843-1.
///
/// **Units**: those of the value. **Domain**: `se` > 0, `p` in (0, 0.5).
/// **Source**: ISO 11843-1 (from memory).
///
/// ```
/// use seep_report::analysis::diagnose::seen_from;
/// use seep_report::analysis::estimate::Estimate;
/// let e = Estimate { value: 0.0, se: 1.0, degrees_of_freedom: 1e9 };
/// assert!((seen_from(&e, 0.0, 0.05) - 2.0 * 1.645).abs() < 1e-3);
/// assert!((seen_from(&e, 10.0, 0.05) - 11.645).abs() < 1e-3);
/// ```
#[must_use]
pub fn seen_from(estimate: &Estimate, least: f64, p: f64) -> f64 {
    let t = |q: f64| student_t_quantile(q, estimate.degrees_of_freedom.max(1.0));
    least.max(t(1.0 - p) * estimate.se) + t(POWER) * estimate.se
}

/// As a loss in percent, of the logarithm of what is left.
fn loss_percent(ln_change: &Estimate, least: f64, p: f64) -> f64 {
    -100.0 * (-seen_from(ln_change, least, p)).exp_m1()
}

/// Smallest loss that several paths must have in common to be called slow
/// together, percent: the two ways of a line, all fills, all dumps. `None` when
/// one of them has too few moves. See [`seen_from`].
#[must_use]
pub fn together_seen_from_percent(paths: &[&MoveTrend]) -> Option<f64> {
    let changes: Option<Vec<Estimate>> = paths.iter().map(|t| t.ln_change).collect();
    let changes = changes.filter(|c| !c.is_empty())?;
    Some(loss_percent(
        &Estimate::mean_of(&changes),
        -SLOWED.ln(),
        CHANGE_P,
    ))
}

/// The same of all paths of a direction, or of both: without heights only one direction
/// against the other tells. See [`seen_from`].
#[must_use]
pub fn shared_seen_from_percent(trends: &[MoveTrend], direction: Option<Direction>) -> Option<f64> {
    if trends.iter().all(|t| t.by_height) {
        let here = |t: &&MoveTrend| direction.is_none_or(|d| t.direction == d);
        return together_seen_from_percent(&trends.iter().filter(here).collect::<Vec<_>>());
    }
    let common = shared_change(trends, direction?)?.common;
    Some(loss_percent(&common, -SLOWED.ln(), CHANGE_P))
}

/// How far the path of a circuit must lie below that of its partner on the axle
/// to be called slow throughout, percent: partners are made alike only so far.
/// `None` without heights or with too few moves. See [`seen_from`].
#[must_use]
pub fn partner_seen_from_percent(trend: &MoveTrend, partner: &MoveTrend) -> Option<f64> {
    let judged = |t: &MoveTrend| t.by_height && t.moves >= FEWEST_MATES;
    let ln_ratio = Estimate {
        value: 0.0,
        se: trend
            .median_error()
            .hypot(partner.median_error())
            .hypot(MATES_ALIKE),
        degrees_of_freedom: 1e9,
    };
    let percent = loss_percent(&ln_ratio, -SLOWER_THAN_MATE.ln(), 0.5);
    (judged(trend) && judged(partner)).then_some(percent)
}

/// Smallest loss of delivery, from the first to the last third of the runs, that
/// would have been called wear, percent. `None` with too few runs. See
/// [`seen_from`].
#[must_use]
pub fn wear_seen_from_percent(trend: &DeliveryTrend) -> Option<f64> {
    let least = -(1.0 - LEAST_WEAR_PERCENT / 100.0).ln();
    Some(loss_percent(&trend.ln_change?, least, WEAR_P))
}

/// A loss of delivery that a log should show: so much less is felt as a slow compressor,
/// percent (common practice, no source).
pub const WEAR_TO_SHOW_PERCENT: f64 = 25.0;

/// Single runs of one compressor scatter by so much where a log is too short to tell:
/// the tank's warmth before and after. A standard deviation of the logarithm, common
/// practice, no source.
const USUAL_SCATTER: f64 = 0.05;

/// Runs after which a loss of delivery of `percent` would be called wear; `None` where
/// no number of them is enough. With fewer than six runs their usual scatter stands for
/// the measured one. See [`seen_from`].
#[must_use]
pub fn wear_shown_after(trend: Option<&DeliveryTrend>, percent: f64) -> Option<usize> {
    let least = -(1.0 - LEAST_WEAR_PERCENT / 100.0).ln();
    let measured = trend.and_then(|t| Some((t.ln_change?, t.runs, t.known_error)));
    // Thirds of three runs each.
    let (change, runs, known_error) = measured.unwrap_or((
        Estimate {
            value: 0.0,
            se: USUAL_SCATTER * (2.0_f64 / 3.0).sqrt(),
            degrees_of_freedom: 6.0,
        },
        9,
        trend.map_or(0.0, |t| t.known_error),
    ));
    // The change of the unknown log counts no known error within its own.
    let change = match measured {
        Some(_) => change,
        None => change.with_known_error(known_error),
    };
    let wanted = -(1.0 - percent / 100.0).ln();
    runs_needed(&change, runs, known_error, wanted, |e| {
        seen_from(e, least, WEAR_P)
    })
}

/// Smallest growth of the lag of a circuit's valves that would have been called
/// late, ms: of both together, else of the one that is judged. `None` where none
/// is. See [`seen_from`].
#[must_use]
pub fn late_seen_from_ms(place: &str, growths: &[LagGrowth]) -> Option<f64> {
    let own = growths.iter().rev().find(|g| g.place == place)?;
    Some(seen_from(&own.growth_ms, LEAST_MS, GROWTH_P))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A rule on a normal estimate, tried on drawn values: of faults as large as
    /// told 95 % are found. Invented.
    #[test]
    fn of_faults_as_large_as_told_95_percent_are_found() {
        let known = Estimate {
            value: 0.0,
            se: 0.05,
            degrees_of_freedom: 1e9,
        };
        let (least, p) = (0.1, 1e-3);
        let size = seen_from(&known, least, p);
        let n = 20_000;
        let found = (0..n)
            .map(|i| (f64::from(i) + 0.5) / f64::from(n))
            .map(|q| size + known.se * crate::analysis::stats::normal_quantile(q))
            .map(|value| Estimate { value, ..known })
            .filter(|e| e.value > least && e.scaled(-1.0).falls_p() < p)
            .count();
        let share = found as f64 / f64::from(n);
        assert!((share - 0.95).abs() < 1e-3, "{share}");
    }
}
