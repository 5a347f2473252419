//! What slows all paths of one direction, where only pressures tell what was moved.

use super::super::estimate::Estimate;
use super::super::moves::{ALIKE_BLIND, Direction, MoveTrend};

/// The paths of one direction against those of the other.
pub(super) struct SharedChange {
    /// The paths, with the change of their pace less that of the other direction.
    pub(super) paths: Vec<MoveTrend>,
    /// What they have in common.
    pub(super) common: Estimate,
}

/// How the paths of a direction changed together, over those of the other direction.
///
/// Without a height a car that is lifted further seems to be filled more slowly; but then
/// it also seems to be dumped more slowly, which a strangled supply does not explain.
/// `mean(ln pace change of one direction) − mean(that of the other)`, by inverse
/// variances, with the error that the mix of moves may differ between them.
///
/// `None` with a height, where every path speaks for itself, and with fewer than two
/// compared paths of either direction.
pub(super) fn shared_change(trends: &[MoveTrend], direction: Direction) -> Option<SharedChange> {
    let compared = |wanted: bool| -> Vec<(&MoveTrend, Estimate)> {
        let blind = trends.iter().filter(|t| !t.by_height);
        let here = blind.filter(|t| (t.direction == direction) == wanted);
        here.filter_map(|t| Some((t, t.ln_pace_change?))).collect()
    };
    let (own, other) = (compared(true), compared(false));
    if own.len().min(other.len()) < 2 {
        return None;
    }
    let mean = |all: &[(&MoveTrend, Estimate)]| {
        Estimate::mean_of(&all.iter().map(|(_, change)| *change).collect::<Vec<_>>())
    };
    let (of_own, of_other) = (mean(&own), mean(&other));
    let less = |change: &Estimate| Estimate {
        value: change.value - of_other.value,
        ..change.with_known_error(of_other.se)
    };
    let against = |(t, change): &(&MoveTrend, Estimate)| MoveTrend {
        ln_change: Some(less(change)),
        ..(*t).clone()
    };
    Some(SharedChange {
        paths: own.iter().map(against).collect(),
        common: less(&of_own).with_known_error(ALIKE_BLIND),
    })
}

#[cfg(test)]
mod tests {
    use super::super::paths::tests::path;
    use super::*;

    /// Invented: every path of a direction keeps this share of its pace.
    fn without_heights(fill: f64, dump: f64) -> Vec<MoveTrend> {
        let places = ["front_left", "front_right", "rear_left", "rear_right"];
        let both = |place: &&str| {
            [(Direction::Fill, fill), (Direction::Dump, dump)].map(|(direction, kept)| {
                let path = path(place, direction, 0.1, 0.1 * kept);
                MoveTrend {
                    by_height: false,
                    ln_pace_change: path.ln_change,
                    ..path
                }
            })
        };
        places.iter().flat_map(both).collect()
    }

    #[test]
    fn fills_that_slow_while_dumps_do_not_change_together() {
        let found = shared_change(&without_heights(0.4, 1.0), Direction::Fill).expect("enough");
        assert!((found.common.value - 0.4_f64.ln()).abs() < 1e-9);
        assert!(found.common.se > ALIKE_BLIND && found.common.falls_p() < 5e-4);
        assert_eq!(found.paths.len(), 4);
    }

    #[test]
    fn a_car_that_is_lifted_further_changes_nothing() {
        let found = shared_change(&without_heights(0.4, 0.4), Direction::Fill).expect("enough");
        assert!(found.common.value.abs() < 1e-9);
    }

    #[test]
    fn dumps_that_nobody_measured_leave_it_open() {
        let mut trends = without_heights(0.4, 1.0);
        trends.retain(|t| t.direction == Direction::Fill);
        assert!(shared_change(&trends, Direction::Fill).is_none());
    }
}
