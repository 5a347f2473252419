//! Stretches of a corner's readings between two disturbances.

use super::super::moves::Series;
use super::super::segment::{Busy, OnSpan};

/// A change of pressure with the valves closed above this share, between neighbouring
/// readings, is a change of load. Half of the least change that is used.
const STEP_SHARE: f64 = 0.5 * super::LEAST_LOAD_SHARE;

/// Readings further apart than this are not neighbours, ms.
const NEIGHBOURS_MS: i64 = 90_000;

/// Readings are averaged over this long before they are compared, ms.
const BIN_MS: i64 = 10_000;

/// One circuit over a session.
#[derive(Debug, Clone, Copy)]
pub struct CircuitView<'a> {
    /// Openings of its fill valve.
    pub fills: &'a [OnSpan],
    /// Openings of its dump valve.
    pub dumps: &'a [OnSpan],
    /// Pressure, kPa absolute.
    pub kpa_abs: Series<'a>,
    /// Height, mm; empty when not recorded.
    pub mm: Series<'a>,
    /// Temperature nearest to its air, K; empty when not recorded.
    pub kelvin: Series<'a>,
}

/// How a stretch began or ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum StretchEdge {
    /// The session began or ended, or the car was driven.
    Unknown,
    /// A fill or a dump.
    Move,
    /// The load changed with the valves closed.
    Load,
}

/// A stretch without a move, a change of load or driving.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct QuietStretch {
    /// Start, log time ms.
    pub from_ms: i64,
    /// What ended at the start.
    pub began: StretchEdge,
    /// End, log time ms.
    pub to_ms: i64,
    /// What began at the end.
    pub ended: StretchEdge,
}

/// Returns the stretches of a circuit in time order; neighbours share a disturbance.
pub(super) fn stretches(
    circuit: &CircuitView,
    driving: &Busy,
    bounds_ms: (i64, i64),
) -> Vec<QuietStretch> {
    let moves = Busy::from_on_spans(circuit.fills.iter().chain(circuit.dumps));
    let mut known: Vec<(i64, i64, StretchEdge)> =
        (moves.spans().iter().map(|s| (s.0, s.1, StretchEdge::Move)))
            .chain(
                driving
                    .spans()
                    .iter()
                    .map(|s| (s.0, s.1, StretchEdge::Unknown)),
            )
            .collect();
    known.sort_by_key(|e| e.0);
    let quiet = between(&known, bounds_ms);
    let mut all = known;
    for stretch in &quiet {
        all.extend(load_steps(circuit, stretch).map(|(from, to)| (from, to, StretchEdge::Load)));
    }
    all.sort_by_key(|e| e.0);
    between(&all, bounds_ms)
}

fn between(events: &[(i64, i64, StretchEdge)], bounds_ms: (i64, i64)) -> Vec<QuietStretch> {
    let mut out = Vec::with_capacity(events.len() + 1);
    let (mut from_ms, mut began) = (bounds_ms.0, StretchEdge::Unknown);
    let end = (bounds_ms.1, bounds_ms.1, StretchEdge::Unknown);
    for &(start_ms, end_ms, edge) in events.iter().chain(std::iter::once(&end)) {
        if start_ms > from_ms {
            out.push(QuietStretch {
                from_ms,
                began,
                to_ms: start_ms,
                ended: edge,
            });
        }
        if end_ms >= from_ms {
            (from_ms, began) = (end_ms, edge);
        }
    }
    out
}

/// Spans in which the pressure steps; steps that follow each other at once are one.
fn load_steps(circuit: &CircuitView, stretch: &QuietStretch) -> impl Iterator<Item = (i64, i64)> {
    // The air of a move that just ended is still on its way to the wall.
    let from_ms = match stretch.began {
        StretchEdge::Move => stretch.from_ms + super::settle::MEETS_WALL_MS / 2,
        StretchEdge::Unknown | StretchEdge::Load => stretch.from_ms,
    };
    let bins = bins(&circuit.kpa_abs.window(from_ms, stretch.to_ms));
    let mut steps: Vec<(i64, i64)> = Vec::new();
    for pair in bins.windows(2) {
        let [a, b] = [pair[0], pair[1]];
        if b.0 - a.1 > NEIGHBOURS_MS || (b.2 / a.2).ln().abs() < STEP_SHARE {
            continue;
        }
        match steps.last_mut() {
            Some(last) if a.0 <= last.1 => last.1 = b.1,
            _ => steps.push((a.1, b.0)),
        }
    }
    steps.into_iter()
}

/// First time, last time and mean of the readings of each bin.
fn bins((t_ms, values): &(Vec<i64>, Vec<f64>)) -> Vec<(i64, i64, f64)> {
    let mut out: Vec<(i64, i64, f64, f64)> = Vec::new();
    for (&t, &v) in t_ms.iter().zip(values) {
        match out.last_mut() {
            Some(bin) if t - bin.0 < BIN_MS => {
                bin.1 = t;
                bin.2 += v;
                bin.3 += 1.0;
            }
            _ => out.push((t, t, v, 1.0)),
        }
    }
    out.into_iter().map(|b| (b.0, b.1, b.2 / b.3)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(from_ms: i64, to_ms: i64) -> OnSpan {
        OnSpan {
            from_ms,
            to_ms,
            start_seen: true,
            end_seen: true,
            wired: true,
        }
    }

    #[test]
    fn a_change_of_load_between_moves_is_a_boundary() {
        let t: Vec<i64> = (0..100).map(|i| i * 10_000).collect();
        let kpa: Vec<f32> = (t.iter())
            .map(|t| if *t < 400_000 { 500.0 } else { 560.0 })
            .collect();
        let (fills, dumps) = ([on(100_000, 104_000)], [on(700_000, 703_000)]);
        let circuit = CircuitView {
            fills: &fills,
            dumps: &dumps,
            kpa_abs: Series::new(&t, &kpa, 0.0),
            mm: Series::default(),
            kelvin: Series::default(),
        };
        let found = stretches(&circuit, Busy::never(), (0, 990_000));
        let spans: Vec<_> = (found.iter())
            .map(|s| (s.from_ms, s.to_ms, s.began, s.ended))
            .collect();
        assert_eq!(
            spans,
            [
                (0, 100_000, StretchEdge::Unknown, StretchEdge::Move),
                (104_000, 390_000, StretchEdge::Move, StretchEdge::Load),
                (400_000, 700_000, StretchEdge::Load, StretchEdge::Move),
                (703_000, 990_000, StretchEdge::Move, StretchEdge::Unknown),
            ]
        );
    }

    #[test]
    fn a_driven_stretch_is_left_out() {
        let circuit = CircuitView {
            fills: &[],
            dumps: &[],
            kpa_abs: Series::default(),
            mm: Series::default(),
            kelvin: Series::default(),
        };
        let driving = Busy::new([(300, 500)]);
        let found = stretches(&circuit, &driving, (0, 1_000));
        assert_eq!(found.len(), 2);
        assert!(found.iter().all(|s| s.ended == StretchEdge::Unknown));
    }
}
