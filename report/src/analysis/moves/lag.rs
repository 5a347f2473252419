//! How long after its coil a valve lets air pass.

use super::super::stats::{mean, sd};
use super::{Direction, Opening, Series};

/// Readings before the opening, ms.
const BEFORE_MS: i64 = 3_000;

/// The pressure must start to move within this time, ms.
const LATEST_MS: i64 = 1_500;

/// A pressure this far from where it stood has moved, kPa; more where the
/// readings scatter.
const MOVED_KPA: f64 = 2.5;

/// Readings further apart than this do not tell, ms.
const DENSE_MS: i64 = 350;

/// Time from the coil to the first movement of the corner's pressure, ms:
/// where the line between two readings passes [`MOVED_KPA`] from the mean
/// before. It holds the valve's own delay and the time of the first step of
/// pressure; only its change says something. `None` without a rise in time or
/// with readings too far apart.
#[must_use]
pub(super) fn response_ms(corner_kpa_abs: &Series, opening: &Opening, wired: bool) -> Option<f64> {
    if !wired {
        return None;
    }
    let from_ms = opening.from_ms();
    let (_, before) =
        corner_kpa_abs.window((from_ms - BEFORE_MS).max(opening.quiet_since_ms), from_ms);
    let level = mean(before).filter(|_| before.len() >= 3)?;
    let moved = MOVED_KPA.max(6.0 * sd(before).unwrap_or(0.0));
    let sign = match opening.direction {
        Direction::Fill => 1.0,
        Direction::Dump => -1.0,
    };
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
