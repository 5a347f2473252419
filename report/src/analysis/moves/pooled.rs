//! Conductances with the time that really passed air, and one per path.

use super::super::estimate::Estimate;
use super::dead_time::{DeadTime, dead_time};
use super::{Direction, Move};
use std::collections::BTreeMap;

/// At least this share of the time open lets air pass.
const LEAST_FLOWING: f64 = 0.2;

/// Refer the conductances of wired moves to the time in which air passed, path by path.
///
/// `C = Δn/(ψ̄·(T − d·k))` with the time T that the coil was driven in k pulses and the
/// dead time d of the path; its error is shared by all moves of the path.
pub fn allow_for_dead_time(moves: &mut [Move]) {
    let mut paths: BTreeMap<(String, Direction), Vec<usize>> = BTreeMap::new();
    for (i, m) in moves.iter().enumerate() {
        if m.wired && m.conductance > 0.0 {
            let path = (m.place.clone(), m.direction);
            paths.entry(path).or_default().push(i);
        }
    }
    for own in paths.values() {
        let dead = dead_time(&own.iter().map(|i| &moves[*i]).collect::<Vec<_>>());
        own.iter().for_each(|i| moves[*i].lose(dead));
    }
}

impl Move {
    fn lose(&mut self, dead: DeadTime) {
        let pulses = self.timing.pulses as f64;
        let least_s = LEAST_FLOWING * self.open_s;
        let flowing_s = (self.open_s - dead.seconds * pulses).max(least_s);
        self.conductance *= self.open_s / flowing_s;
        let edges = self.timing.edge_s() * pulses.sqrt() / flowing_s;
        self.error.own = self.error.own.hypot(edges);
        self.error.shared.push(dead.se * pulses / flowing_s);
        self.conductance_se = self.conductance * self.error.total();
    }
}

/// Conductance of a path: the mean of its moves, each by what its own error leaves of
/// it, with the errors that they share. `None` without a move.
///
/// **Units**: L/(s·bar) ANR.
#[must_use]
pub fn path_conductance(own: &[&Move]) -> Option<Estimate> {
    let weight = |m: &Move| m.error.own.max(1e-3).powi(-2);
    let all: f64 = own.iter().map(|m| weight(m)).sum();
    let value = own.iter().map(|m| weight(m) * m.conductance).sum::<f64>() / all;
    let squares: f64 = own
        .iter()
        .map(|m| weight(m) * (m.conductance / value - 1.0).powi(2))
        .sum();
    let degrees = own.len().checked_sub(1)? as f64;
    // Scatter beyond what errors explain widens the interval.
    let beyond = if degrees > 0.0 {
        (squares / degrees).max(1.0)
    } else {
        1.0
    };
    let causes = own.iter().map(|m| m.error.shared.len()).max()?;
    let shared: f64 = (0..causes)
        .map(|cause| {
            let of = |m: &&Move| weight(m) * m.error.shared.get(cause).copied().unwrap_or(0.0);
            (own.iter().map(of).sum::<f64>() / all).powi(2)
        })
        .sum();
    let scatter = Estimate {
        value,
        se: value * (beyond / all).sqrt(),
        degrees_of_freedom: degrees.max(1.0),
    };
    Some(scatter.with_known_error(value * shared.sqrt()))
}
