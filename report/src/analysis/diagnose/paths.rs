//! Which path got slow: valve, line, supply or exhaust.

use super::super::moves::{Direction, MoveTrend};
use super::rank_paths;

/// A slow path.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PathFault {
    /// Fill and dump of one corner: the line or fitting they share.
    LineRestricted {
        /// The circuit.
        place: String,
    },
    /// Fill of one corner: its fill valve or port.
    FillSlow {
        /// The circuit.
        place: String,
    },
    /// Dump of one corner: its dump valve or silencer branch.
    DumpSlow {
        /// The circuit.
        place: String,
    },
    /// Every fill: tank outlet, filter, supply line.
    SupplyRestricted,
    /// Every dump: common exhaust, silencer.
    ExhaustRestricted,
}

/// A slow path with its evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct PathFinding {
    /// What is slow.
    pub fault: PathFault,
    /// The trends it rests on.
    pub trends: Vec<MoveTrend>,
    /// Probability that the slowing is no accident.
    pub probability: f64,
    /// Every explanation with its share of the likelihood, most likely first.
    pub ranking: Vec<(PathFault, f64)>,
    /// True when it got slower during the log, false when it is slow throughout.
    pub developing: bool,
}

/// A path this much below its own start is slow.
const SLOWED: f64 = 0.85;

/// A path this much below the other corner of its axle is slow.
const SLOWER_THAN_MATE: f64 = 0.65;

/// A trend is believed below this p value; a car has eight paths, looked at
/// together.
const TREND_P: f64 = 0.001;

/// Where half of the paths of a direction got slow and all others are below
/// this share of their start, what they share got slow.
const FELL_TOO: f64 = 0.94;

/// Explain the trends of all paths. `mates` gives the other circuit of the axle.
#[must_use]
pub fn explain_paths(
    trends: &[MoveTrend],
    mate_of: impl Fn(&str) -> Option<String>,
) -> Vec<PathFinding> {
    let slow: Vec<(&MoveTrend, bool, f64)> = trends
        .iter()
        .filter_map(|t| {
            if let Some(p) = slowed(t) {
                return Some((t, true, p));
            }
            // Without heights the amounts of two corners cannot be compared.
            let mate = mate_of(&t.place).filter(|_| t.by_height)?;
            let mate = trends
                .iter()
                .find(|m| m.place == mate && m.direction == t.direction)?;
            slower_than_mate(t, mate).map(|p| (t, false, p))
        })
        .collect();
    let mut out = Vec::new();
    let mut explained: Vec<Direction> = Vec::new();
    for (direction, fault) in [
        (Direction::Fill, PathFault::SupplyRestricted),
        (Direction::Dump, PathFault::ExhaustRestricted),
    ] {
        let own: Vec<_> = slow.iter().filter(|s| s.0.direction == direction).collect();
        if is_common(trends, direction, &own) {
            explained.push(direction);
            out.push(finding(fault, &own, trends, &mate_of));
        }
    }
    let mut places: Vec<&str> = slow.iter().map(|s| s.0.place.as_str()).collect();
    places.dedup();
    for place in places {
        let own: Vec<_> = slow
            .iter()
            .filter(|s| s.0.place == place && !explained.contains(&s.0.direction))
            .collect();
        let fault = match own.iter().map(|s| s.0.direction).collect::<Vec<_>>()[..] {
            [] => continue,
            [Direction::Fill] => PathFault::FillSlow {
                place: place.into(),
            },
            [Direction::Dump] => PathFault::DumpSlow {
                place: place.into(),
            },
            _ => PathFault::LineRestricted {
                place: place.into(),
            },
        };
        out.push(finding(fault, &own, trends, &mate_of));
    }
    out
}

/// What all paths of a direction share is slow: at least two and half of them
/// slowed beyond doubt, and no other kept its flow.
fn is_common(trends: &[MoveTrend], direction: Direction, own: &[&(&MoveTrend, bool, f64)]) -> bool {
    let judged = |t: &&MoveTrend| t.direction == direction && t.trend_p.is_some();
    let all = trends.iter().filter(judged).count();
    let fell = |t: &&MoveTrend| t.first_last_third.1 < FELL_TOO * t.first_last_third.0;
    let developing = own.iter().filter(|s| s.1).count();
    developing >= 2 && 2 * developing >= all && trends.iter().filter(judged).all(|t| fell(&t))
}

fn finding(
    fault: PathFault,
    own: &[&(&MoveTrend, bool, f64)],
    trends: &[MoveTrend],
    mate_of: &impl Fn(&str) -> Option<String>,
) -> PathFinding {
    let developing = own.iter().any(|s| s.1);
    let place = own.first().map_or("", |s| s.0.place.as_str());
    PathFinding {
        ranking: rank_paths(trends, place, developing, mate_of),
        fault,
        trends: own.iter().map(|s| s.0.clone()).collect(),
        probability: 1.0 - own.iter().map(|s| s.2).fold(0.0, f64::max),
        developing,
    }
}

/// p value when the path got slower beyond doubt.
fn slowed(t: &MoveTrend) -> Option<f64> {
    let p = t.trend_p?;
    let (_, _, high) = t.drift_percent_per_day?;
    let fell = t.first_last_third.1 < SLOWED * t.first_last_third.0;
    (fell && p < TREND_P && high < 0.0).then_some(p)
}

/// p value when the path is slower than its mate by more than the scatter of both.
fn slower_than_mate(t: &MoveTrend, mate: &MoveTrend) -> Option<f64> {
    let ratio = t.median_conductance / mate.median_conductance;
    let error = 1.25
        * (t.scatter / (t.moves as f64).sqrt()).hypot(mate.scatter / (mate.moves as f64).sqrt());
    let z = ratio.ln() / error.max(0.02);
    let p = super::super::stats::normal_two_sided_p(z);
    (ratio < SLOWER_THAN_MATE && p < TREND_P && t.moves >= 4 && mate.moves >= 4).then_some(p)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(place: &str, direction: Direction, first: f64, last: f64) -> MoveTrend {
        let falling = last < 0.99 * first;
        MoveTrend {
            place: place.into(),
            direction,
            moves: 12,
            by_height: true,
            median_conductance: (first + last) / 2.0,
            first_last_third: (first, last),
            reference_time_s: (4.0 / first, 4.0 / last),
            drift_percent_per_day: Some(if falling {
                (-10.0, -14.0, -6.0)
            } else {
                (0.0, -1.0, 1.0)
            }),
            trend_p: Some(if falling { 1e-5 } else { 0.6 }),
            scatter: 0.03,
        }
    }

    fn mate(place: &str) -> Option<String> {
        Some(match place {
            "front_left" => "front_right".into(),
            "front_right" => "front_left".into(),
            _ => return None,
        })
    }

    fn both(place: &str, fill: (f64, f64), dump: (f64, f64)) -> [MoveTrend; 2] {
        [
            path(place, Direction::Fill, fill.0, fill.1),
            path(place, Direction::Dump, dump.0, dump.1),
        ]
    }

    #[test]
    fn both_ways_slow_is_the_line_and_one_way_is_the_valve() {
        let good = (0.1, 0.1);
        let trends = [
            both("front_left", (0.1, 0.05), (0.1, 0.06)),
            both("front_right", good, good),
        ]
        .concat();
        let found = explain_paths(&trends, mate);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(
            matches!(&found[0].fault, PathFault::LineRestricted { place } if place == "front_left")
        );
        assert!(found[0].developing);

        let trends = [
            both("front_left", (0.1, 0.05), good),
            both("front_right", good, good),
        ]
        .concat();
        let found = explain_paths(&trends, mate);
        assert!(matches!(&found[0].fault, PathFault::FillSlow { .. }));
    }

    #[test]
    fn slow_throughout_shows_against_the_mate() {
        let trends = [
            both("front_left", (0.04, 0.04), (0.1, 0.1)),
            both("front_right", (0.1, 0.1), (0.1, 0.1)),
        ]
        .concat();
        let found = explain_paths(&trends, mate);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(!found[0].developing);
        assert!(matches!(&found[0].fault, PathFault::FillSlow { .. }));
    }

    #[test]
    fn every_fill_slow_is_the_supply() {
        let trends: Vec<MoveTrend> = ["front_left", "front_right", "rear_left", "rear_right"]
            .iter()
            .flat_map(|p| both(p, (0.1, 0.05), (0.1, 0.1)))
            .collect();
        let found = explain_paths(&trends, mate);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].fault, PathFault::SupplyRestricted);
    }

    #[test]
    fn two_circuits_whose_dumps_both_slow_have_one_exhaust() {
        let trends = [
            both("front", (0.1, 0.1), (0.2, 0.12)),
            both("rear", (0.1, 0.1), (0.2, 0.13)),
        ]
        .concat();
        let found = explain_paths(&trends, |_| None);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].fault, PathFault::ExhaustRestricted);
    }

    #[test]
    fn steady_paths_have_no_finding() {
        let trends = [
            both("front_left", (0.1, 0.1), (0.1, 0.1)),
            both("front_right", (0.1, 0.1), (0.1, 0.1)),
        ]
        .concat();
        assert!(explain_paths(&trends, mate).is_empty());
    }
}
