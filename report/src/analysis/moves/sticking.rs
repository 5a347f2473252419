//! Openings of a valve that let nothing pass at first.

use super::super::segment::OnSpan;
use super::super::stats::{mean, sd};
use super::flow_time::{StillAir, air, bend_ms};
use super::{Direction, Move, MoveView, Opening};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Openings of one move that tell whether the valve stuck, and those that did.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Sticking {
    /// Openings that would have shown it.
    pub openings: usize,
    /// Openings that let nothing pass for [`STUCK_MS`], and then passed air.
    pub stuck: usize,
    /// Longest time until air passed, ms.
    pub longest_ms: f64,
    /// Sum of the variances of when air began to pass, ms².
    pub start_variance_ms2: f64,
}

/// The same of one valve over the log.
#[derive(Debug, Clone, PartialEq)]
pub struct ValveSticking {
    /// Circuit.
    pub place: String,
    /// Which valve.
    pub direction: Direction,
    /// Its openings.
    pub sum: Sticking,
}

impl ValveSticking {
    /// From what length on two openings that let nothing pass are both counted with 95 %
    /// certainty, so that the valve is called sticking, ms: each with 97.5 %, by the standard
    /// error of when air began to pass. `None` without an opening that would have shown it.
    #[must_use]
    pub fn seen_from_ms(&self) -> Option<f64> {
        let n = self.sum.openings as f64;
        (n > 0.0).then(|| STUCK_MS + BOTH_COUNTED * (self.sum.start_variance_ms2 / n).sqrt())
    }
}

/// 97.5 % of normal errors lie below this many standard errors: Φ⁻¹(√0.95) to three digits.
const BOTH_COUNTED: f64 = 1.955;

/// A valve that lets nothing pass for so long sticks, ms: a sound one of this size opens
/// within 150. Common practice, no source.
pub const STUCK_MS: f64 = 500.0;

/// An opening must be this long to show it, ms, and is looked at for no longer than this.
const LENGTH_MS: (i64, i64) = (800, 4_000);

/// Readings before the opening, ms.
const BEFORE_MS: i64 = 3_000;

/// Air of the opening before is still on its way, ms.
const SETTLED_MS: i64 = 500;

/// What passes must stand out of the noise by so many standard errors, and what does not
/// pass must be this near to nothing.
const SEEN: f64 = 5.0;
const NOTHING: f64 = 3.0;

/// Readings needed within [`STUCK_MS`].
const FEWEST: usize = 3;

/// Look at every pulse of a move.
pub(super) fn sticking(view: &MoveView, opening: &Opening) -> Sticking {
    let mut out = Sticking::default();
    let mut quiet_since_ms = opening.quiet_since_ms;
    for pulse in &opening.spans {
        if let Some(start) = starts(view, opening.direction, pulse, quiet_since_ms) {
            let starts_ms = start.ms;
            out.openings += 1;
            out.start_variance_ms2 += start.se_ms.powi(2);
            if starts_ms >= STUCK_MS {
                out.stuck += 1;
                out.longest_ms = out.longest_ms.max(starts_ms);
            }
        }
        quiet_since_ms = pulse.to_ms + SETTLED_MS;
    }
    out
}

/// When air began to pass, ms after the coil, and its standard error.
struct FlowStart {
    ms: f64,
    se_ms: f64,
}

/// When air began to pass; `None` where it would not have shown. By
/// the air in the corner where its height is recorded, else by its pressure.
fn starts(
    view: &MoveView,
    direction: Direction,
    pulse: &OnSpan,
    quiet_since_ms: i64,
) -> Option<FlowStart> {
    let length_ms = (pulse.to_ms - pulse.from_ms).min(LENGTH_MS.1);
    if length_ms < LENGTH_MS.0 {
        return None;
    }
    let since_ms = (pulse.from_ms - BEFORE_MS).max(quiet_since_ms);
    let readings = air(view, direction, since_ms, pulse.from_ms + length_ms);
    let (before, after): (Vec<_>, Vec<_>) = readings
        .into_iter()
        .map(|(t, y)| ((t - pulse.from_ms) as f64, y))
        .partition(|p| p.0 <= 0.0);
    let level = StillAir::steady(&before)?;
    let noise = sd(&before.iter().map(|p| p.1).collect::<Vec<_>>())?;
    let (starts_ms, flowing) = first_flow(&after, level, length_ms as i32 - 100)?;
    let early: Vec<f64> = after
        .iter()
        .filter(|p| p.0 <= STUCK_MS)
        .map(|p| p.1 - level.at_zero)
        .collect();
    let last = after.last()?;
    let mean_rate = (last.1 - level.at_zero) / (last.0 - starts_ms).max(1.0);
    let se = noise * (1.0 / early.len() as f64 + 1.0 / before.len() as f64).sqrt();
    // What a sound valve would have passed by then, on average.
    let expected = mean_rate * 0.5 * (STUCK_MS - 150.0);
    if early.len() < FEWEST || expected < SEEN * se {
        return None;
    }
    let nothing = mean(&early)?.abs() <= (NOTHING * se).max(0.15 * expected);
    // Where a line through so many points meets the level before.
    let by_noise = noise / mean_rate * (1.0 / before.len() as f64 + 4.0 / flowing as f64).sqrt();
    let raster_ms = last.0 / after.len() as f64;
    Some(FlowStart {
        // A start that the first readings contradict is no late one.
        ms: if nothing {
            starts_ms
        } else {
            starts_ms.min(STUCK_MS - 1.0)
        },
        se_ms: by_noise.hypot(raster_ms / 12.0_f64.sqrt()),
    })
}

/// Flow is a straight line for so long, ms: as a corner fills or empties it slackens, and a
/// line through all of it would meet the level too early.
const STRAIGHT_MS: f64 = 500.0;

/// When air began to pass, ms, and how many readings of the flow tell it: by all of them
/// first, then by those soon after.
fn first_flow(after: &[(f64, f64)], level: StillAir, latest_ms: i32) -> Option<(f64, usize)> {
    let mut starts_ms = bend_ms(after, level, (-150, latest_ms))?;
    let mut flowing = after.iter().filter(|p| p.0 > starts_ms).count().max(1);
    for _ in 0..3 {
        let until = starts_ms + STRAIGHT_MS;
        let soon: Vec<(f64, f64)> = after.iter().filter(|p| p.0 <= until).copied().collect();
        let Some(nearer) = bend_ms(&soon, level, (-150, until as i32 - 100)) else {
            break;
        };
        starts_ms = nearer;
        flowing = soon.iter().filter(|p| p.0 > starts_ms).count().max(1);
    }
    Some((starts_ms, flowing))
}

/// Openings of every valve, in order of place and direction.
#[must_use]
pub fn by_valve(moves: &[Move]) -> Vec<ValveSticking> {
    let mut sums: BTreeMap<(String, Direction), Sticking> = BTreeMap::new();
    for m in moves.iter().filter(|m| m.timing.sticking.openings > 0) {
        let sum = sums.entry((m.place.clone(), m.direction)).or_default();
        sum.openings += m.timing.sticking.openings;
        sum.stuck += m.timing.sticking.stuck;
        sum.start_variance_ms2 += m.timing.sticking.start_variance_ms2;
        sum.longest_ms = sum.longest_ms.max(m.timing.sticking.longest_ms);
    }
    let of = |((place, direction), sum)| ValveSticking {
        place,
        direction,
        sum,
    };
    sums.into_iter().map(of).collect()
}
