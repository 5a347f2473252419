//! Valves that answer later than they did, whatever their flow.

use super::super::moves::{Direction, Move, MoveTrend};
use super::super::stats::{mann_kendall, median};

/// Valves of one circuit that got late.
#[derive(Debug, Clone, PartialEq)]
pub struct LateValves {
    /// Circuit.
    pub place: String,
    /// Which valves.
    pub directions: Vec<Direction>,
    /// Median response in the first and last third of the moves, ms, of the
    /// valve that changed most.
    pub first_last_ms: (f64, f64),
    /// Moves with a measured response.
    pub moves: usize,
    /// p value of the trend (Mann–Kendall), the largest of the valves named.
    pub p: f64,
}

/// Responses that grew by less than this are not called late, ms.
const LEAST_MS: f64 = 25.0;

/// A trend is believed below this p value; all circuits are looked at.
const TREND_P: f64 = 2e-3;

/// Moves needed of a valve.
const FEWEST: usize = 8;

/// A path that passes less than this share of its first flow also moves the
/// pressure later, whatever its valve does.
const KEPT_FLOW: f64 = 0.92;

/// Circuits whose valves answer later and later while their flow is kept.
#[must_use]
pub fn late_valves(places: &[String], moves: &[Move], trends: &[MoveTrend]) -> Vec<LateValves> {
    let keeps = |place: &str, direction: Direction| {
        let own = |t: &&MoveTrend| t.place == place && t.direction == direction;
        let path = trends.iter().find(own).map(|t| t.first_last_third);
        path.is_none_or(|(first, last)| last > KEPT_FLOW * first)
    };
    places
        .iter()
        .filter_map(|p| late(p, moves, &|direction| keeps(p, direction)))
        .collect()
}

fn late(place: &str, moves: &[Move], keeps: &dyn Fn(Direction) -> bool) -> Option<LateValves> {
    let mut found: Option<LateValves> = None;
    for direction in [Direction::Fill, Direction::Dump] {
        let own: Vec<f64> = moves
            .iter()
            .filter(|m| m.place == place && m.direction == direction)
            .filter_map(|m| m.response_ms)
            .collect();
        let third = own.len() / 3;
        if own.len() < FEWEST || !keeps(direction) {
            continue;
        }
        let (first, last) = (median(&own[..third])?, median(&own[own.len() - third..])?);
        let p = mann_kendall(&own)?.p();
        if last - first < LEAST_MS || p > TREND_P {
            continue;
        }
        let grew = |f: &LateValves| f.first_last_ms.1 - f.first_last_ms.0;
        let entry = found.get_or_insert_with(|| LateValves {
            place: place.into(),
            directions: Vec::new(),
            first_last_ms: (first, first),
            moves: 0,
            p: 0.0,
        });
        entry.directions.push(direction);
        entry.moves += own.len();
        entry.p = entry.p.max(p);
        if last - first > grew(entry) {
            entry.first_last_ms = (first, last);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moves(late_from: usize, lag_ms: f64) -> Vec<Move> {
        (0..48)
            .map(|i| Move {
                place: "front_left".into(),
                direction: if i % 2 == 0 {
                    Direction::Fill
                } else {
                    Direction::Dump
                },
                from_ms: i as i64 * 3_600_000,
                to_ms: i as i64 * 3_600_000 + 3_000,
                open_s: 3.0,
                wired: true,
                driving: None,
                mm: None,
                kpa_abs: (500.0, 560.0),
                time_to_height_s: None,
                timed_by_pressure: true,
                response_ms: Some(
                    120.0
                        + [4.0, -6.0, 9.0, -3.0, 1.0][i % 5]
                        + if i >= late_from { lag_ms } else { 0.0 },
                ),
                amount_anr_l: 2.0,
                shape_kpa: 700.0,
                conductance: 0.1,
                conductance_se: 0.002,
            })
            .collect()
    }

    #[test]
    fn valves_that_answer_later_are_named() {
        let places = ["front_left".to_string()];
        let found = late_valves(&places, &moves(24, 80.0), &[]);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].directions, [Direction::Fill, Direction::Dump]);
        assert!((found[0].first_last_ms.1 - found[0].first_last_ms.0 - 80.0).abs() < 15.0);
        assert_eq!(late_valves(&places, &moves(48, 80.0), &[]), []);
        assert_eq!(late_valves(&places, &moves(24, 10.0), &[]), []);
    }

    #[test]
    fn a_path_that_lost_its_flow_is_not_called_late() {
        let slow = crate::analysis::moves::trends(
            &moves(24, 80.0)
                .into_iter()
                .enumerate()
                .map(|(i, m)| Move {
                    conductance: if i < 24 { 0.1 } else { 0.05 },
                    ..m
                })
                .collect::<Vec<_>>(),
        );
        assert_eq!(
            late_valves(&["front_left".to_string()], &moves(24, 80.0), &slow),
            []
        );
    }
}
