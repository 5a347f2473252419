//! Which moves of a path can be compared with each other, and by what.

use super::Move;
use super::alike::alike;
use super::beside::beside;

/// Fewer moves show no trend.
pub(super) const FEWEST: usize = 6;

/// Moves that can be compared with each other.
pub(super) struct Comparable<'a> {
    pub(super) moves: Vec<&'a Move>,
    /// Logarithms of their conductances, less what another circuit showed beside them.
    pub(super) logs: Vec<f64>,
    pub(super) by_height: bool,
    /// False where nothing tells how far a move lifted the car.
    pub(super) tells_change: bool,
}

impl<'a> Comparable<'a> {
    /// `own` of one path, `all` moves of the log, `mate` the other circuit of the axle.
    pub(super) fn of(own: &[&'a Move], all: &[Move], mate: Option<&str>) -> Self {
        let ln = |m: &&Move| m.conductance.ln();
        if own.iter().all(|m| m.mm.is_some()) {
            return Comparable {
                moves: own.to_vec(),
                logs: own.iter().map(ln).collect(),
                by_height: true,
                tells_change: true,
            };
        }
        let pairs = mate.map_or(Vec::new(), |mate| beside(own, all, mate));
        let group = alike(&pairs.iter().map(|p| p.own).collect::<Vec<_>>());
        if group.len() < FEWEST {
            let moves = alike(own);
            return Comparable {
                logs: moves.iter().map(ln).collect(),
                moves,
                by_height: false,
                tells_change: false,
            };
        }
        let same = |a: &Move, b: &Move| std::ptr::eq(a, b);
        let chosen: Vec<_> = pairs
            .iter()
            .filter(|p| group.iter().any(|m| same(m, p.own)))
            .collect();
        Comparable {
            moves: chosen.iter().map(|p| p.own).collect(),
            logs: chosen.iter().map(|p| ln(&p.own) - p.ln_offset).collect(),
            by_height: false,
            tells_change: true,
        }
    }
}
