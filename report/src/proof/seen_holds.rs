//! Holds that the log itself shows: how far a place moved while nobody moved it.
//!
//! A long rest is several holds, one behind the other.

use crate::analysis::segment::{Rest, RestPoint};
use crate::analysis::stats::median;

/// The hours of one hold at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SeenHold {
    /// Farthest from the state at its beginning, falling positive, mm or kPa.
    pub(super) farthest: f64,
    /// It was read from its beginning to its end.
    pub(super) whole: bool,
}

/// The state at the beginning is the median over this, s.
const BEGIN_S: f64 = 600.0;

/// A rest may be shorter than the hold by this and still counts whole: a night is
/// hardly ever a full number of hours.
const NEARLY: f64 = 0.95;

/// Every hold of `hours` hours of a place.
pub(super) fn seen_holds(
    rests: &[Rest],
    place: &str,
    hours: f64,
    value: impl Fn(&RestPoint) -> f64,
) -> Vec<SeenHold> {
    let own = rests.iter().filter(|r| r.place == place);
    own.flat_map(|r| of_rest(r, hours, &value)).collect()
}

fn of_rest(rest: &Rest, hours: f64, value: &impl Fn(&RestPoint) -> f64) -> Vec<SeenHold> {
    let read: Vec<(f64, f64)> = rest
        .points
        .iter()
        .map(|p| (p.t_s, value(p)))
        .filter(|p| !p.1.is_nan())
        .collect();
    let mut left = &read[..];
    let mut out = Vec::new();
    while let Some(first) = left.first() {
        let (hold, behind) =
            left.split_at(left.partition_point(|p| p.0 <= first.0 + 3600.0 * hours));
        out.extend(of_hold(hold, hours));
        left = behind;
    }
    out
}

fn of_hold(read: &[(f64, f64)], hours: f64) -> Option<SeenHold> {
    let (from_s, to_s) = (read.first()?.0, read.last()?.0);
    let beginning = read.iter().take_while(|p| p.0 <= from_s + BEGIN_S);
    let begin = median(&beginning.map(|p| p.1).collect::<Vec<_>>())?;
    let values: Vec<f64> = read.iter().map(|p| p.1).collect();
    let farthest = without_spikes(&values)
        .map(|v| begin - v)
        .max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    Some(SeenHold {
        farthest,
        whole: to_s - from_s >= NEARLY * 3600.0 * hours,
    })
}

/// Medians of three neighbours: a single reading that is off moves nothing.
fn without_spikes(values: &[f64]) -> impl Iterator<Item = f64> + '_ {
    let middle = |w: &[f64]| w[0].max(w[1]).min(w[0].min(w[1]).max(w[2]));
    let few = values.len() < 3;
    let alone = values.iter().copied().filter(move |_| few);
    values.windows(3).map(middle).chain(alone)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::segment::{LastMove, Resolution};

    /// Invented: readings every ten minutes.
    fn rest(mm: &[f64]) -> Rest {
        Rest {
            place: "rear_left".into(),
            points: mm
                .iter()
                .enumerate()
                .map(|(i, mm)| RestPoint {
                    t_s: 600.0 * i as f64,
                    kpa_abs: 600.0,
                    kelvin: f64::NAN,
                    mm: *mm,
                    ticks: 1.0,
                })
                .collect(),
            bridges: Vec::new(),
            after: LastMove::Unknown,
            quiet_since_s: None,
            sessions: vec![1],
            weather_unread_s: 0.0,
            resolution: Resolution::default(),
        }
    }

    #[test]
    fn the_farthest_point_of_each_hold_counts_and_a_spike_does_not() {
        // 0 to 60 min, 70 to 130 min, 140 to 160 min.
        let sunk = rest(&[
            0.0, 0.0, -3.0, -12.0, -12.0, -2.0, 0.0, //
            0.0, 0.0, -30.0, 1.0, 1.0, 1.0, 0.0, //
            5.0, 5.0, 5.0,
        ]);
        let holds = of_rest(&sunk, 1.0, &|p| p.mm);
        let farthest: Vec<f64> = holds.iter().map(|h| h.farthest).collect();
        assert_eq!(farthest, [12.0, -1.0, 0.0]);
        let whole: Vec<bool> = holds.iter().map(|h| h.whole).collect();
        assert_eq!(whole, [true, true, false]);
        assert!(of_rest(&sunk, 1.0, &|_| f64::NAN).is_empty());
    }
}
