//! Moves of one volume in one session: when it was busy, and what was done last.

use super::super::super::segment::{Busy, OnSpan};
use super::super::OwnMove;
use super::unseen_moves::UnseenMove;

/// A rest ends this long before a valve opens, ms: its opening is seen late.
const BEFORE_MS: i64 = 2_000;

/// It begins this long after a wired valve closed, ms, …
const AFTER_WIRED_MS: i64 = 5_000;

/// … and this long after one told from the pressures: its end is as uncertain as
/// the readings are apart.
const AFTER_INFERRED_MS: i64 = 20_000;

/// Openings of one session, by circuit and by compressor.
#[derive(Debug, Clone, Copy)]
pub struct SessionMoves<'a> {
    /// Openings of fill valves, by circuit in the rig's order.
    pub fills: &'a [Vec<OnSpan>],
    /// Openings of dump valves, by circuit.
    pub dumps: &'a [Vec<OnSpan>],
    /// Runs, by compressor.
    pub runs: &'a [Vec<OnSpan>],
}

/// When air was moved into or out of one volume.
#[derive(Debug, Clone, Default)]
pub(super) struct VolumeMoves {
    busy: Vec<(i64, i64)>,
    moves: Vec<OwnMove>,
}

impl VolumeMoves {
    /// Of a corner, by its number in the rig, or of the tank.
    pub(super) fn of(session: &SessionMoves, circuit: Option<usize>) -> Self {
        circuit.map_or_else(
            || Self::of_tank(session),
            |circuit| Self::of_corner(session, circuit),
        )
    }

    fn of_corner(session: &SessionMoves, circuit: usize) -> Self {
        let mut out = VolumeMoves::default();
        out.add(session.fills.get(circuit).into_iter().flatten(), 1.0);
        out.add(session.dumps.get(circuit).into_iter().flatten(), -1.0);
        out
    }

    /// Any fill takes air, any run brings some.
    fn of_tank(session: &SessionMoves) -> Self {
        let mut out = VolumeMoves::default();
        out.add(session.fills.iter().flatten(), -1.0);
        out.add(session.runs.iter().flatten(), 1.0);
        out
    }

    fn add<'a>(&mut self, spans: impl Iterator<Item = &'a OnSpan>, sign: f64) {
        for span in spans {
            let after_ms = if span.wired {
                AFTER_WIRED_MS
            } else {
                AFTER_INFERRED_MS
            };
            self.busy
                .push((span.from_ms - BEFORE_MS, span.to_ms + after_ms));
            self.moves.push(OwnMove {
                end_s: span.to_ms as f64 / 1e3,
                sign,
                duration_s: span.seconds(),
            });
        }
    }

    /// Adds moves told by the pressure alone, where no known one tells them.
    pub(super) fn add_unseen(&mut self, unseen: &[UnseenMove]) {
        let known = self.busy();
        for m in unseen {
            let told = known
                .spans()
                .iter()
                .any(|k| k.0 <= m.to_ms && m.from_ms <= k.1);
            self.busy.push((m.from_ms, m.to_ms));
            if !told {
                self.moves.push(OwnMove {
                    end_s: m.to_ms as f64 / 1e3,
                    sign: if m.upward { 1.0 } else { -1.0 },
                    duration_s: (m.to_ms - m.from_ms) as f64 / 1e3,
                });
            }
        }
    }

    pub(super) fn busy(&self) -> Busy {
        Busy::new(self.busy.iter().copied())
    }

    /// Moves in any order.
    pub(super) fn moves(&self) -> &[OwnMove] {
        &self.moves
    }

    /// Moves in order of their ends.
    pub(super) fn in_order(mut self) -> Vec<OwnMove> {
        self.moves.sort_by(|a, b| a.end_s.total_cmp(&b.end_s));
        self.moves
    }
}
