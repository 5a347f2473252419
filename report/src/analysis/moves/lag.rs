//! How long after its coil a valve lets air pass.

use super::super::stats::{mean, sd};
use super::{Direction, MoveView, Opening, Series};
use seep_common::physics::gas::{ANR_K, amount_anr_l};

/// Readings before the opening, ms.
const BEFORE_MS: i64 = 3_000;

/// The air must start to flow within this time, ms.
const LATEST_MS: i64 = 1_500;

/// Readings further apart than this do not tell, ms.
const DENSE_MS: i64 = 350;

/// Readings needed before the opening and after it.
const FEWEST: usize = 3;

/// Time from the coil until the valve lets air pass, ms. Where the height is
/// recorded it is told from the air in the corner ([`by_air`]), else from its
/// pressure ([`by_pressure`]); the latter holds the time of the first step of
/// pressure too, so only its change says something. `None` where readings are
/// too far apart or show no start.
#[must_use]
pub(super) fn response_ms(view: &MoveView, opening: &Opening, wired: bool) -> Option<f64> {
    if !wired {
        return None;
    }
    if view.mm.is_empty() {
        by_pressure(view.corner_kpa_abs, opening)
    } else {
        by_air(view, opening)
    }
}

/// Ratio of the specific heats of air: within a second it exchanges no heat.
const HEAT_RATIO: f64 = 1.4;

/// Where a line that begins level and then climbs at a steady rate bends: least
/// squares over the air in the corner until [`LATEST_MS`] after the coil.
///
/// While springs work and air flows there is no time for heat to pass, so the
/// air is told by `p^(1/κ)·V(h)`, which neither bumps nor a sticking spring
/// change. A valve that passes little shifts nothing.
fn by_air(view: &MoveView, opening: &Opening) -> Option<f64> {
    let from_ms = opening.from_ms();
    let first_end = opening.spans.first()?.to_ms;
    let until_ms = (from_ms + LATEST_MS).min(first_end);
    let since_ms = (from_ms - BEFORE_MS).max(opening.quiet_since_ms);
    let (t_ms, kpa) = view.corner_kpa_abs.window(since_ms, until_ms);
    let sign = sign(opening.direction);
    let air: Vec<(f64, f64)> = t_ms
        .into_iter()
        .zip(kpa)
        .filter_map(|(t, kpa_abs)| {
            let mm = view.mm.at(t, DENSE_MS)?;
            let still = ANR_K * (kpa_abs / 100.0).powf(1.0 - 1.0 / HEAT_RATIO);
            let anr_l = amount_anr_l(kpa_abs, view.vessel.volume_l(mm), still);
            Some(((t - from_ms) as f64, sign * anr_l))
        })
        .collect();
    let (before, after): (Vec<_>, Vec<_>) = air.into_iter().partition(|p| p.0 <= 0.0);
    let dense = after.windows(2).all(|w| w[1].0 - w[0].0 <= DENSE_MS as f64)
        && after.first()?.0 <= DENSE_MS as f64;
    if before.len() < FEWEST || after.len() < FEWEST || !dense {
        return None;
    }
    let level = mean(&before.iter().map(|p| p.1).collect::<Vec<_>>())?;
    Some(bend_ms(&after, level))
}

/// Bends tried, ms. Noise may put one before the coil: cut off at 0, the mean
/// of many would lean to later ones.
const BENDS_MS: (i32, i32) = (-150, 1_000);

fn bend_ms(points: &[(f64, f64)], level: f64) -> f64 {
    let misfit = |bend: f64| -> f64 {
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (t, anr_l) in points {
            let (x, y) = ((t - bend).max(0.0), anr_l - level);
            xx += x * x;
            xy += x * y;
            yy += y * y;
        }
        if xx > 0.0 && xy > 0.0 {
            yy - xy * xy / xx
        } else {
            yy
        }
    };
    (BENDS_MS.0..=BENDS_MS.1)
        .map(f64::from)
        .min_by(|a, b| misfit(*a).total_cmp(&misfit(*b)))
        .unwrap_or(0.0)
}

/// A pressure this far from where it stood has moved, kPa; more where the
/// readings scatter.
const MOVED_KPA: f64 = 2.5;

/// Where the line between two readings passes [`MOVED_KPA`] from the mean before.
fn by_pressure(corner_kpa_abs: Series, opening: &Opening) -> Option<f64> {
    let from_ms = opening.from_ms();
    let (_, before) =
        corner_kpa_abs.window((from_ms - BEFORE_MS).max(opening.quiet_since_ms), from_ms);
    let level = mean(&before).filter(|_| before.len() >= FEWEST)?;
    let moved = MOVED_KPA.max(6.0 * sd(&before).unwrap_or(0.0));
    let sign = sign(opening.direction);
    let first_end = opening.spans.first()?.to_ms;
    let until = (from_ms + LATEST_MS).min(first_end);
    let (t_ms, values) = corner_kpa_abs.window(from_ms - DENSE_MS, until);
    let off = |i: usize| sign * (values[i] - level);
    let i = (0..values.len()).find(|i| t_ms[*i] >= from_ms && off(*i) >= moved)?;
    let j = i.checked_sub(1)?;
    if t_ms[i] - t_ms[j] > DENSE_MS || off(i) <= off(j) {
        return None;
    }
    let share = (moved - off(j)) / (off(i) - off(j));
    let at = t_ms[j] as f64 + share * (t_ms[i] - t_ms[j]) as f64;
    Some((at - from_ms as f64).max(0.0))
}

fn sign(direction: Direction) -> f64 {
    match direction {
        Direction::Fill => 1.0,
        Direction::Dump => -1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bend_between_readings_is_found() {
        for bend in [12.0_f64, 95.0, 240.0] {
            let points: Vec<(f64, f64)> = (1..8)
                .map(|i| f64::from(i) * 200.0 - 8.0)
                .map(|t| (t, 15.0 + 0.001 * (t - bend).max(0.0)))
                .collect();
            assert!((bend_ms(&points, 15.0) - bend).abs() < 1.0);
        }
    }
}
