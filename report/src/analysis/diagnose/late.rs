//! Valves that answer later than they did, whatever their flow.

use super::super::moves::{Direction, Move};
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
const TREND_P: f64 = 5e-4;

/// Moves needed of a valve.
const FEWEST: usize = 8;

/// Circuits whose valves answer later and later.
#[must_use]
pub fn late_valves(places: &[String], moves: &[Move]) -> Vec<LateValves> {
    places.iter().filter_map(|p| late(p, moves)).collect()
}

fn late(place: &str, moves: &[Move]) -> Option<LateValves> {
    let mut found: Option<LateValves> = None;
    for direction in [Direction::Fill, Direction::Dump] {
        let own: Vec<f64> = moves
            .iter()
            .filter(|m| m.place == place && m.direction == direction)
            .filter_map(|m| m.response_ms)
            .collect();
        let third = own.len() / 3;
        if own.len() < FEWEST {
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
