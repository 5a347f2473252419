//! Fills that can be used: tank and corners at rest before and after.

use super::super::moves::Series;
use super::super::segment::{Busy, OnSpan};
use super::super::volume_error::State;
use super::{Part, Transfer};
use seep_common::physics::gas::{ANR_K, amount_anr_l};

/// The air of a tank has come near its shell's temperature this long after a
/// fill, ms. Common practice, no source; the rest is in the error of the result.
const SETTLE_MS: i64 = 120_000;

/// Readings are averaged over this long, ms.
const WINDOW_MS: i64 = 120_000;

/// Readings later than this after a fill are not used: leaks begin to matter, ms.
const LATEST_MS: i64 = 600_000;

/// A temperature this old is still used, ms.
const KELVIN_HOLDS_MS: i64 = 900_000;

/// A load is read over this long before and after it changes, ms.
const LOAD_WINDOW_MS: i64 = 60_000;

/// Loads further apart than this are not compared: leaks begin to matter, ms.
const LOAD_APART_MS: i64 = 1_200_000;

/// A change of pressure below this share is no change of load.
const LEAST_LOAD_SHARE: f64 = 0.03;

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

/// One session.
#[derive(Debug, Clone)]
pub struct SessionView<'a> {
    /// Circuits in the rig's order.
    pub circuits: Vec<CircuitView<'a>>,
    /// Compressor runs.
    pub runs: Vec<OnSpan>,
    /// Tank pressure, kPa absolute.
    pub tank_kpa_abs: Series<'a>,
    /// Temperature nearest to the tank's air, K; empty when not recorded.
    pub tank_kelvin: Series<'a>,
    /// When the car was driven.
    pub driving: &'a Busy,
    /// Start and end, log time ms.
    pub bounds_ms: (i64, i64),
}

/// Fills that cannot be used, by reason.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct LeftOut {
    /// The compressor ran, or had just run.
    pub compressor: usize,
    /// Air was moved again before the air had settled.
    pub unsettled: usize,
    /// The car was driven.
    pub driven: usize,
    /// Readings are missing.
    pub unread: usize,
}

/// Fills that cannot be used are counted in `left_out`.
#[must_use]
pub fn transfers(view: &SessionView, left_out: &mut LeftOut) -> Vec<Transfer> {
    let fills: Vec<Group> = groups(view);
    let filled = fills
        .iter()
        .filter_map(|group| match transfer(view, group) {
            Ok(transfer) => Some(transfer),
            Err(reason) => {
                *match reason {
                    Reason::Compressor => &mut left_out.compressor,
                    Reason::Unsettled => &mut left_out.unsettled,
                    Reason::Driven => &mut left_out.driven,
                    Reason::Unread => &mut left_out.unread,
                } += 1;
                None
            }
        })
        .collect::<Vec<_>>();
    let mut all: Vec<Transfer> = (0..view.circuits.len())
        .flat_map(|circuit| loads(view, circuit))
        .chain(filled)
        .collect();
    all.sort_by_key(|t| t.from_ms);
    all
}

/// Changes of load between the moves of a circuit.
fn loads(view: &SessionView, circuit: usize) -> Vec<Transfer> {
    let Some(one) = view.circuits.get(circuit) else {
        return Vec::new();
    };
    let moves = Busy::from_on_spans(one.fills.iter().chain(one.dumps));
    let ends = moves.spans().iter().map(|s| s.1 + SETTLE_MS);
    let starts = moves.spans().iter().map(|s| s.0);
    let froms = std::iter::once(view.bounds_ms.0).chain(ends);
    let untils = starts.chain(std::iter::once(view.bounds_ms.1));
    (froms.zip(untils))
        .filter_map(|(from_ms, until_ms)| {
            let from_ms = from_ms.max(until_ms - LOAD_APART_MS);
            let still = !(view.driving.spans().iter()).any(|d| d.0 < until_ms && d.1 > from_ms);
            if until_ms - from_ms < 3 * LOAD_WINDOW_MS || !still {
                return None;
            }
            let before = state(one, (from_ms, from_ms + LOAD_WINDOW_MS))?;
            let after = state(one, (until_ms - LOAD_WINDOW_MS, until_ms))?;
            let change = (after.kpa_abs / before.kpa_abs - 1.0).abs();
            (change >= LEAST_LOAD_SHARE).then(|| Transfer {
                from_ms,
                settled_s: (until_ms - from_ms) as f64 / 1000.0,
                lost_per_l: 0.0,
                lost_per_l_se: 0.0,
                filled: false,
                parts: vec![Part {
                    circuit,
                    before,
                    after,
                }],
            })
        })
        .collect()
}

enum Reason {
    Compressor,
    Unsettled,
    Driven,
    Unread,
}

/// Fill openings of any circuit with no time to settle between them.
struct Group {
    spans: Vec<(usize, OnSpan)>,
}

impl Group {
    fn opened_ms(&self) -> i64 {
        self.spans.iter().map(|s| s.1.from_ms).min().unwrap_or(0)
    }

    fn closed_ms(&self) -> i64 {
        self.spans.iter().map(|s| s.1.to_ms).max().unwrap_or(0)
    }

    fn circuits(&self) -> Vec<usize> {
        let mut all: Vec<usize> = self.spans.iter().map(|s| s.0).collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}

fn groups(view: &SessionView) -> Vec<Group> {
    let mut spans: Vec<(usize, OnSpan)> = (view.circuits.iter().enumerate())
        .flat_map(|(i, c)| c.fills.iter().map(move |s| (i, *s)))
        .collect();
    spans.sort_by_key(|s| s.1.from_ms);
    let mut groups: Vec<Group> = Vec::new();
    for span in spans {
        match groups.last_mut() {
            Some(last) if span.1.from_ms - last.closed_ms() < SETTLE_MS => last.spans.push(span),
            _ => groups.push(Group { spans: vec![span] }),
        }
    }
    groups
}

fn transfer(view: &SessionView, group: &Group) -> Result<Transfer, Reason> {
    let (from_ms, to_ms) = (group.opened_ms(), group.closed_ms());
    if !group.spans.iter().all(|s| s.1.start_seen && s.1.end_seen) {
        return Err(Reason::Unread);
    }
    let circuits = group.circuits();
    let mut since_ms = view.bounds_ms.0;
    let mut until_ms = view.bounds_ms.1.min(to_ms + LATEST_MS);
    for run in &view.runs {
        if run.from_ms < to_ms && run.to_ms > from_ms {
            return Err(Reason::Compressor);
        }
        if run.to_ms <= from_ms {
            since_ms = since_ms.max(run.to_ms + SETTLE_MS);
        } else {
            until_ms = until_ms.min(run.from_ms);
        }
    }
    if since_ms >= from_ms || until_ms <= to_ms + SETTLE_MS {
        return Err(Reason::Compressor);
    }
    for (i, circuit) in view.circuits.iter().enumerate() {
        // Any fill empties the tank; a dump matters to its own circuit only.
        let dumps = circuit.dumps.iter().filter(|_| circuits.contains(&i));
        for span in circuit.fills.iter().chain(dumps) {
            if span.to_ms <= from_ms {
                since_ms = since_ms.max(span.to_ms + SETTLE_MS);
            } else if span.from_ms >= to_ms {
                until_ms = until_ms.min(span.from_ms);
            } else if !group.spans.contains(&(i, *span)) {
                return Err(Reason::Unsettled);
            }
        }
    }
    if since_ms >= from_ms || until_ms <= to_ms + SETTLE_MS {
        return Err(Reason::Unsettled);
    }
    let before = (since_ms.max(from_ms - WINDOW_MS), from_ms);
    let after = ((to_ms + SETTLE_MS).max(until_ms - WINDOW_MS), until_ms);
    if (view.driving.spans().iter()).any(|d| d.0 < after.1 && d.1 > before.0) {
        return Err(Reason::Driven);
    }
    measure(view, &circuits, before, after, to_ms).ok_or(Reason::Unread)
}

fn measure(
    view: &SessionView,
    circuits: &[usize],
    before: (i64, i64),
    after: (i64, i64),
    to_ms: i64,
) -> Option<Transfer> {
    let tank = |window: (i64, i64)| -> Option<(f64, f64)> {
        let mean = view.tank_kpa_abs.mean(window.0, window.1)?;
        let kelvin = kelvin(&view.tank_kelvin, window);
        Some((
            amount_anr_l(mean.mean, 1.0, kelvin),
            amount_anr_l(mean.standard_error(), 1.0, kelvin),
        ))
    };
    let (had, had_se) = tank(before)?;
    let (has, has_se) = tank(after)?;
    let parts: Option<Vec<Part>> = (circuits.iter())
        .map(|&circuit| {
            let one = view.circuits.get(circuit)?;
            Some(Part {
                circuit,
                before: state(one, before)?,
                after: state(one, after)?,
            })
        })
        .collect();
    Some(Transfer {
        from_ms: before.1,
        settled_s: (after.1 - to_ms) as f64 / 1000.0,
        lost_per_l: had - has,
        lost_per_l_se: had_se.hypot(has_se),
        filled: true,
        parts: parts?,
    })
}

fn state(circuit: &CircuitView, window: (i64, i64)) -> Option<State> {
    let mean = |s: &Series| s.mean(window.0, window.1).map(|m| m.mean);
    let mm = if circuit.mm.is_empty() {
        f64::NAN
    } else {
        mean(&circuit.mm)?
    };
    Some(State {
        kpa_abs: mean(&circuit.kpa_abs)?,
        kelvin: kelvin(&circuit.kelvin, window),
        mm,
    })
}

/// Temperature of a window, or of the time before it; 20 °C without any.
fn kelvin(series: &Series, (from_ms, to_ms): (i64, i64)) -> f64 {
    series
        .mean(from_ms, to_ms)
        .or_else(|| series.mean(from_ms - KELVIN_HOLDS_MS, to_ms))
        .map_or(ANR_K, |m| m.mean)
}
