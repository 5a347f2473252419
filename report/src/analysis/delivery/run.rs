//! One compressor run.

use super::super::moves::{Direction, Move, Series};
use super::super::segment::{Busy, OnSpan};
use seep_common::physics::gas::{ANR_K, amount_anr_l};

/// Tank series over one session.
#[derive(Debug, Clone, Copy)]
pub struct RunView<'a> {
    /// Tank pressure, kPa absolute.
    pub tank_kpa_abs: &'a Series,
    /// Tank temperature, K; empty when not recorded.
    pub kelvin: &'a Series,
    /// Supply voltage, V; empty when not recorded.
    pub supply_v: &'a Series,
    /// Tank volume, L; `None` when the rig gives none: no amount is then known.
    pub tank_l: Option<f64>,
    /// When any fill valve was open.
    pub fills: &'a Busy,
}

/// What one complete run did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// Start, log time ms.
    pub from_ms: i64,
    /// End, log time ms.
    pub to_ms: i64,
    /// Tank pressure at start and end, kPa absolute.
    pub kpa_abs: (f64, f64),
    /// Rise of the amount of air in the tank, ANR L; `None` without a tank volume.
    pub gain_anr_l: Option<f64>,
    /// Delivery into the tank, ANR L/min: mean over the run. `None` when a fill
    /// valve was open meanwhile, since air then left the tank again (see
    /// [`with_fills`]), or without a tank volume.
    pub anr_l_per_min: Option<f64>,
    /// Mean supply voltage, V.
    pub supply_v: Option<f64>,
}

impl Run {
    /// Length, s.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        (self.to_ms - self.from_ms) as f64 / 1000.0
    }
}

/// A run shorter than this says nothing about delivery, s.
const SHORTEST_S: f64 = 10.0;

/// Measure a run. `None` when start or end was not seen or the tank was silent.
///
/// Delivery is the rise of the amount of air in the tank over the length of
/// the run, by the tank's own temperature where it is recorded.
#[must_use]
pub fn measure_run(view: &RunView, span: &OnSpan) -> Option<Run> {
    if !(span.start_seen && span.end_seen) {
        return None;
    }
    let start = at_edge(view.tank_kpa_abs, span.from_ms, -15_000)?;
    let end = at_edge(view.tank_kpa_abs, span.to_ms, 15_000)?;
    let kelvin = |t: i64| {
        view.kelvin
            .mean(t - 60_000, t + 60_000)
            .map_or(ANR_K, |m| m.mean)
    };
    let seconds = span.seconds();
    let disturbed = view
        .fills
        .spans()
        .iter()
        .any(|f| f.0 < span.to_ms && f.1 > span.from_ms);
    let amount = view.tank_l.map(|litres| {
        amount_anr_l(end, litres, kelvin(span.to_ms))
            - amount_anr_l(start, litres, kelvin(span.from_ms))
    });
    Some(Run {
        from_ms: span.from_ms,
        to_ms: span.to_ms,
        kpa_abs: (start, end),
        gain_anr_l: amount,
        anr_l_per_min: amount
            .filter(|_| !disturbed && seconds >= SHORTEST_S)
            .map(|litres| litres / seconds * 60.0),
        supply_v: view.supply_v.mean(span.from_ms, span.to_ms).map(|m| m.mean),
    })
}

/// The runs with the air that fills took meanwhile added to the tank's gain, so
/// that disturbed ones count too. A fill that reaches beyond the run counts by
/// the share of its time inside; a run none of whose fills could be measured
/// stays without a delivery.
#[must_use]
pub fn with_fills(runs: &[Run], fills: &[Move]) -> Vec<Run> {
    let taken = |run: &Run| -> f64 {
        let share = |m: &&Move| {
            let inside = m.to_ms.min(run.to_ms) - m.from_ms.max(run.from_ms);
            inside.max(0) as f64 / (m.to_ms - m.from_ms).max(1) as f64
        };
        let is_fill = |m: &&Move| m.direction == Direction::Fill;
        fills
            .iter()
            .filter(is_fill)
            .map(|m| share(&m) * m.amount_anr_l)
            .sum()
    };
    let of = |run: &Run| {
        let taken_l = taken(run);
        let known = run.anr_l_per_min.is_none() && taken_l > 0.0;
        let whole = |gain_l: f64| (gain_l + taken_l) / run.seconds() * 60.0;
        Run {
            anr_l_per_min: if known && run.seconds() >= SHORTEST_S {
                run.gain_anr_l.map(whole)
            } else {
                run.anr_l_per_min
            },
            ..*run
        }
    };
    runs.iter().map(of).collect()
}

/// Reading at an edge: on the line between neighbours, or the nearest one on
/// the quiet side within `reach_ms`.
fn at_edge(series: &Series, t_ms: i64, reach_ms: i64) -> Option<f64> {
    if let Some(value) = series.at(t_ms, 15_000) {
        return Some(value);
    }
    let (from, to) = if reach_ms < 0 {
        (t_ms + reach_ms, t_ms)
    } else {
        (t_ms, t_ms + reach_ms)
    };
    let (_, values) = series.window(from, to);
    if reach_ms < 0 {
        values.last().copied()
    } else {
        values.first().copied()
    }
}
