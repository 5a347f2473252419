//! How long after its coil a valve lets air pass.

use super::super::stats::{mean, sd};
use super::flow_time::{BEFORE_MS, DENSE_MS, FEWEST, LATEST_MS};
use super::{Direction, MoveView, Opening, Series, Timing};

/// Time from the coil until the valve lets air pass, ms. Where the height is recorded
/// it is told from the air in the corner, else from its pressure ([`by_pressure`]); the
/// latter holds the time of the first step of pressure too, so only its change says
/// something. A coil that is asked for its state was driven half a raster before the
/// answer, on average. `None` where readings are too far apart or show no start.
#[must_use]
pub(super) fn response_ms(view: &MoveView, opening: &Opening, timing: &Timing) -> Option<f64> {
    let seen = if view.mm.is_empty() {
        by_pressure(view.corner_kpa_abs, opening)
    } else {
        timing.starts_ms
    };
    Some(seen? + 500.0 * timing.raster_s)
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
