//! When air began to flow and when it stopped, against the coil.

use super::super::segment::OnSpan;
use super::super::stats::mean;
use super::{Direction, MoveView, Opening};
use seep_common::physics::gas::{ANR_K, amount_anr_l};

/// Readings before the opening, ms.
pub(super) const BEFORE_MS: i64 = 3_000;

/// Air must begin or cease to flow within this time, ms.
pub(super) const LATEST_MS: i64 = 1_500;

/// Readings further apart than this do not tell, ms.
pub(super) const DENSE_MS: i64 = 350;

/// Readings needed where nothing flows and where it does.
pub(super) const FEWEST: usize = 3;

/// Ratio of the specific heats of air: within a second it exchanges no heat.
const HEAT_RATIO: f64 = 1.4;

/// Where air begins to flow after the coil is driven, ms: least squares over the air in
/// the corner until [`LATEST_MS`] after it, a line that is level and then climbs at a
/// steady rate.
///
/// While springs work and air flows there is no time for heat to pass, so the air is
/// told by `p^(1/κ)·V(h)`, which neither bumps nor a sticking spring change. A valve
/// that passes little shifts nothing.
pub(super) fn starts_ms(view: &MoveView, opening: &Opening) -> Option<f64> {
    let spans = &opening.spans;
    let first = spans.iter().position(is_long)?;
    let pulse = &spans[first];
    let before = first
        .checked_sub(1)
        .map(|i| spans[i].to_ms + SHUT_MS as i64);
    let quiet_since_ms = before.unwrap_or(opening.quiet_since_ms);
    let from_ms = pulse.from_ms;
    let since_ms = (from_ms - BEFORE_MS).max(quiet_since_ms);
    let until_ms = (from_ms + LATEST_MS).min(pulse.to_ms);
    let air = air(view, opening.direction, since_ms, until_ms);
    let (level, flowing): (Vec<_>, Vec<_>) = air
        .into_iter()
        .map(|(t, litres)| ((t - from_ms) as f64, litres))
        .partition(|p| p.0 <= 0.0);
    bend_ms(&flowing, StillAir::steady(&level)?, (-150, 1_000))
}

/// Where it ceases to flow after the coil is let go, ms: the same, seen backwards from
/// where nothing flows any more.
pub(super) fn stops_ms(view: &MoveView, opening: &Opening) -> Option<f64> {
    let spans = &opening.spans;
    let last = spans.iter().rposition(is_long)?;
    let pulse = &spans[last];
    let behind = spans.get(last + 1).map(|s| s.from_ms);
    let quiet_until_ms = behind.unwrap_or(opening.quiet_until_ms);
    let to_ms = pulse.to_ms;
    let own_ms = (pulse.to_ms - pulse.from_ms) / 2;
    let since_ms = to_ms - own_ms.min(LATEST_MS);
    let until_ms = (to_ms + LATEST_MS).min(quiet_until_ms);
    let air = air(view, opening.direction, since_ms, until_ms);
    let (level, flowing): (Vec<_>, Vec<_>) = air
        .into_iter()
        .rev()
        .map(|(t, litres)| ((to_ms - t) as f64, -litres))
        .partition(|p| p.0 <= -SHUT_MS);
    // Seen backwards, what ceases 80 ms after the coil begins 80 ms before it.
    bend_ms(
        &flowing,
        StillAir::cooling(&level)?,
        (-(SHUT_MS as i32), 150),
    )
    .map(|ms| -ms)
}

/// A shorter pulse may have ended before the valve was open, ms.
const LONG_MS: i64 = 400;

fn is_long(pulse: &OnSpan) -> bool {
    pulse.to_ms - pulse.from_ms >= LONG_MS
}

/// A valve that is let go is shut after this time, ms: common practice, no source.
const SHUT_MS: f64 = 300.0;

/// Air while nothing flows: a straight line.
#[derive(Debug, Clone, Copy)]
pub(super) struct StillAir {
    pub(super) at_zero: f64,
    per_ms: f64,
}

impl StillAir {
    /// Before a move.
    pub(super) fn steady(points: &[(f64, f64)]) -> Option<Self> {
        let values: Vec<f64> = points.iter().map(|p| p.1).collect();
        (values.len() >= FEWEST).then_some(())?;
        Some(StillAir {
            at_zero: mean(&values)?,
            per_ms: 0.0,
        })
    }

    /// After a move, while the heat of the move leaves the air and its pressure falls
    /// without any of it going.
    fn cooling(points: &[(f64, f64)]) -> Option<Self> {
        (points.len() >= FEWEST).then_some(())?;
        let at = mean(&points.iter().map(|p| p.0).collect::<Vec<_>>())?;
        let level = mean(&points.iter().map(|p| p.1).collect::<Vec<_>>())?;
        let xx: f64 = points.iter().map(|p| (p.0 - at).powi(2)).sum();
        let xy: f64 = points.iter().map(|p| (p.0 - at) * (p.1 - level)).sum();
        let per_ms = if xx > 0.0 { xy / xx } else { 0.0 };
        Some(StillAir {
            at_zero: level - per_ms * at,
            per_ms,
        })
    }
}

/// Least squares for where a line that is level begins to climb. `None` where readings
/// are too few or too far apart.
pub(super) fn bend_ms(flowing: &[(f64, f64)], level: StillAir, tried: (i32, i32)) -> Option<f64> {
    let dense = flowing
        .windows(2)
        .all(|w| w[1].0 - w[0].0 <= DENSE_MS as f64)
        && flowing.first()?.0 <= DENSE_MS as f64;
    if flowing.len() < FEWEST || !dense {
        return None;
    }
    let misfit = |bend: f64| -> f64 {
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (t, anr_l) in flowing {
            let still = level.at_zero + level.per_ms * t;
            let (x, y) = ((t - bend).max(0.0), anr_l - still);
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
    (tried.0..=tried.1)
        .map(f64::from)
        .min_by(|a, b| misfit(*a).total_cmp(&misfit(*b)))
}

/// Air in the corner at readings, ANR L, growing while it flows; its pressure, kPa,
/// where no height is recorded.
pub(super) fn air(
    view: &MoveView,
    direction: Direction,
    from_ms: i64,
    to_ms: i64,
) -> Vec<(i64, f64)> {
    let (t_ms, kpa) = view.corner_kpa_abs.window(from_ms, to_ms);
    let sign = match direction {
        Direction::Fill => 1.0,
        Direction::Dump => -1.0,
    };
    let of = |(t, kpa_abs): (i64, f64)| {
        if view.mm.is_empty() {
            return Some((t, sign * kpa_abs));
        }
        let mm = view.mm.at(t, DENSE_MS)?;
        let still = ANR_K * (kpa_abs / 100.0).powf(1.0 - 1.0 / HEAT_RATIO);
        let anr_l = amount_anr_l(kpa_abs, view.vessel.volume_l(mm), still);
        Some((t, sign * anr_l))
    };
    t_ms.into_iter().zip(kpa).filter_map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bend_between_readings_is_found() {
        let level = StillAir::steady(&[(-600.0, 15.0), (-400.0, 15.0), (-200.0, 15.0)]);
        let level = level.expect("three readings");
        for bend in [12.0_f64, 95.0, 240.0] {
            let points: Vec<(f64, f64)> = (1..8)
                .map(|i| f64::from(i) * 200.0 - 8.0)
                .map(|t| (t, 15.0 + 0.001 * (t - bend).max(0.0)))
                .collect();
            let found = bend_ms(&points, level, (-150, 1_000)).expect("dense");
            assert!((found - bend).abs() < 1.0, "{found} {bend}");
        }
    }

    /// Invented: 0.4 L/s until 60 ms after the coil, then 0.03 L/s less by cooling.
    #[test]
    fn cooling_afterwards_is_no_earlier_end() {
        let air = |ms: f64| -> f64 {
            let (flowing, cooling) = (ms.min(60.0), (ms - 60.0).max(0.0));
            -(4e-4 * flowing - 3e-5 * cooling)
        };
        let points = (-5..15).map(|i| f64::from(i) * -100.0 - 3.0).rev();
        let seen: Vec<(f64, f64)> = points.map(|x| (x, air(-x))).collect();
        let (level, flowing): (Vec<_>, Vec<_>) = seen.into_iter().partition(|p| p.0 <= -SHUT_MS);
        let level = StillAir::cooling(&level).expect("enough");
        let found = bend_ms(&flowing, level, (-300, 150)).expect("dense");
        assert!((found + 60.0).abs() < 2.0, "{found}");
    }
}
