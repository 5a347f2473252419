//! Fills and changes of load that can be used, each with the states at equilibrium
//! before and after it.

use super::super::moves::Series;
use super::super::segment::{Busy, OnSpan};
use super::super::volume_error::State;
use super::settle::{LATEST_MS, MEETS_WALL_MS, Settled, SettlingWindow, WALL_S, settled};
use super::stretches::{CircuitView, QuietStretch, StretchEdge, stretches};
use super::tank::{FillWindow, Loss, MEETS_SHELL_MS, SHELL_S, TankDisturbance, TankView, losses};
use super::{LEAST_LOAD_SHARE, Part, Transfer};
use seep_common::physics::gas::ANR_K;

/// A temperature this old is still used, ms.
const KELVIN_HOLDS_MS: i64 = 900_000;

/// Volume over effective area of a usual corner, mm: what a height's error counts.
const USUAL_LENGTH_MM: f64 = 300.0;

/// `(κ − 1)/κ` of air: share of the temperature an isentropic change of pressure moves.
const ISENTROPIC: f64 = 0.4 / 1.4;

/// Temperature by which air at constant pressure may differ from its wall, as a share:
/// it comes from a tank some kelvin warmer or colder. Common practice, no source.
const MIXED_SHARE: f64 = 0.003;

/// The same where it is unknown what was before.
const UNKNOWN_SHARE: f64 = 0.05;

/// One session.
#[derive(Debug, Clone)]
pub struct SessionView<'a> {
    /// Circuits in the rig's order.
    pub circuits: Vec<CircuitView<'a>>,
    /// Compressor runs.
    pub runs: Vec<OnSpan>,
    /// The tank.
    pub tank: TankView<'a>,
    /// When the car was driven.
    pub driving: &'a Busy,
    /// Start and end, log time ms.
    pub bounds_ms: (i64, i64),
}

/// Time constants with which the air of the corners and of the tank comes back to the
/// temperature of the surroundings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatModel {
    /// Wall of a corner, s.
    pub wall_s: f64,
    /// Shell of the tank, s.
    pub shell_s: f64,
}

impl Default for HeatModel {
    fn default() -> Self {
        HeatModel {
            wall_s: WALL_S,
            shell_s: SHELL_S,
        }
    }
}

/// Fills that cannot be used, by reason.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct LeftOut {
    /// The compressor ran, or had just run.
    pub compressor: usize,
    /// Air was moved again before the air had settled.
    pub unsettled: usize,
    /// A corner was filled and dumped in one move: how much went out is not known.
    pub dumped: usize,
    /// The car was driven.
    pub driven: usize,
    /// Readings are missing.
    pub unread: usize,
}

enum Reason {
    Compressor,
    Unsettled,
    Dumped,
    Driven,
    Unread,
}

impl LeftOut {
    /// Adds another session's.
    pub fn add(&mut self, other: LeftOut) {
        self.compressor += other.compressor;
        self.unsettled += other.unsettled;
        self.dumped += other.dumped;
        self.driven += other.driven;
        self.unread += other.unread;
    }

    fn count(&mut self, reason: &Reason) {
        *match reason {
            Reason::Compressor => &mut self.compressor,
            Reason::Unsettled => &mut self.unsettled,
            Reason::Dumped => &mut self.dumped,
            Reason::Driven => &mut self.driven,
            Reason::Unread => &mut self.unread,
        } += 1;
    }
}

/// Returns the usable fills and changes of load in time order; fills that cannot be
/// used are counted in `left_out`.
#[must_use]
pub fn transfers(view: &SessionView, heat: HeatModel, left_out: &mut LeftOut) -> Vec<Transfer> {
    let quiet: Vec<Vec<QuietStretch>> = (view.circuits.iter())
        .map(|c| stretches(c, view.driving, view.bounds_ms))
        .collect();
    let mut all: Vec<Transfer> = (view.circuits.iter().zip(&quiet).enumerate())
        .flat_map(|(i, (circuit, quiet))| loads(i, circuit, quiet, heat))
        .collect();
    let groups = groups(view);
    let mut usable: Vec<(&FillGroup, FillWindow)> = Vec::new();
    for group in &groups {
        match span(view, group) {
            Ok(span) => usable.push((group, span)),
            Err(reason) => left_out.count(&reason),
        }
    }
    let spans: Vec<FillWindow> = usable.iter().map(|u| u.1).collect();
    let losses = losses(
        &view.tank,
        &spans,
        &disturbances(view, &groups),
        heat.shell_s,
    );
    for ((group, span), loss) in usable.into_iter().zip(losses) {
        let used = loss
            .ok_or(Reason::Unread)
            .and_then(|loss| fill(view, group, &span, loss, &quiet, heat));
        match used {
            Ok(transfer) => all.push(transfer),
            Err(reason) => left_out.count(&reason),
        }
    }
    all.sort_by_key(|t| t.from_ms);
    all
}

/// Changes of load of one circuit with the valves closed.
fn loads(
    index: usize,
    circuit: &CircuitView,
    quiet: &[QuietStretch],
    heat: HeatModel,
) -> Vec<Transfer> {
    let pair = |i: usize| {
        let (before, after) = (quiet.get(i)?, quiet.get(i + 1)?);
        if before.ended != StretchEdge::Load || after.began != StretchEdge::Load {
            return None;
        }
        let part = Part {
            circuit: index,
            before: at_end(circuit, before, amplitude(circuit, quiet, i), heat)?,
            after: at_start(circuit, after, amplitude(circuit, quiet, i + 1), heat)?,
        };
        let change = (part.after.state.kpa_abs / part.before.state.kpa_abs).ln();
        (change.abs() >= LEAST_LOAD_SHARE).then(|| Transfer {
            from_ms: before.to_ms,
            settled_s: seconds(after.from_ms, after.to_ms.min(after.from_ms + LATEST_MS)),
            loss: None,
            parts: vec![part],
        })
    };
    (0..quiet.len()).filter_map(pair).collect()
}

fn seconds(from_ms: i64, to_ms: i64) -> f64 {
    (to_ms - from_ms) as f64 / 1000.0
}

/// Fill openings of any circuit with no time for the tank to settle between them.
struct FillGroup {
    spans: Vec<(usize, OnSpan)>,
    at: TankDisturbance,
}

impl FillGroup {
    fn circuits(&self) -> Vec<usize> {
        let mut all: Vec<usize> = self.spans.iter().map(|s| s.0).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// First opening and last closing of a circuit's fill valve.
    fn of_circuit(&self, circuit: usize) -> TankDisturbance {
        let own = || self.spans.iter().filter(|s| s.0 == circuit);
        TankDisturbance {
            from_ms: own().map(|s| s.1.from_ms).min().unwrap_or(self.at.from_ms),
            to_ms: own().map(|s| s.1.to_ms).max().unwrap_or(self.at.to_ms),
        }
    }
}

fn groups(view: &SessionView) -> Vec<FillGroup> {
    let mut spans: Vec<(usize, OnSpan)> = (view.circuits.iter().enumerate())
        .flat_map(|(i, c)| c.fills.iter().map(move |s| (i, *s)))
        .collect();
    spans.sort_by_key(|s| s.1.from_ms);
    let mut groups: Vec<FillGroup> = Vec::new();
    for span in spans {
        match groups.last_mut() {
            Some(last) if span.1.from_ms - last.at.to_ms < MEETS_SHELL_MS => {
                last.at.to_ms = last.at.to_ms.max(span.1.to_ms);
                last.spans.push(span);
            }
            _ => groups.push(FillGroup {
                at: TankDisturbance {
                    from_ms: span.1.from_ms,
                    to_ms: span.1.to_ms,
                },
                spans: vec![span],
            }),
        }
    }
    groups
}

fn disturbances(view: &SessionView, groups: &[FillGroup]) -> Vec<TankDisturbance> {
    let runs = view.runs.iter().map(|r| TankDisturbance {
        from_ms: r.from_ms,
        to_ms: r.to_ms,
    });
    let mut all: Vec<TankDisturbance> = groups.iter().map(|g| g.at).chain(runs).collect();
    all.sort_by_key(|d| d.to_ms);
    all
}

/// Undisturbed time of the tank around a group of fills.
fn span(view: &SessionView, group: &FillGroup) -> Result<FillWindow, Reason> {
    let (from_ms, to_ms) = (group.at.from_ms, group.at.to_ms);
    if !group.spans.iter().all(|s| s.1.start_seen && s.1.end_seen) {
        return Err(Reason::Unread);
    }
    let mut limits = Limits {
        fill: group.at,
        since_ms: view.bounds_ms.0,
        until_ms: view.bounds_ms.1,
    };
    for run in &view.runs {
        limits.cut(run.from_ms, run.to_ms, Reason::Compressor)?;
    }
    for fill in view.circuits.iter().flat_map(|c| c.fills) {
        if fill.to_ms <= from_ms || fill.from_ms >= to_ms {
            limits.cut(fill.from_ms, fill.to_ms, Reason::Unsettled)?;
        }
    }
    for drive in view.driving.spans() {
        limits.cut(drive.0, drive.1, Reason::Driven)?;
    }
    Ok(FillWindow {
        since_ms: limits.since_ms,
        fill: group.at,
        until_ms: limits.until_ms,
    })
}

struct Limits {
    fill: TankDisturbance,
    since_ms: i64,
    until_ms: i64,
}

impl Limits {
    /// Ends the readings at a disturbance; fails with `reason` when none are left.
    fn cut(&mut self, from_ms: i64, to_ms: i64, reason: Reason) -> Result<(), Reason> {
        if to_ms <= self.fill.from_ms {
            self.since_ms = self.since_ms.max(to_ms + MEETS_SHELL_MS);
        } else if from_ms >= self.fill.to_ms {
            self.until_ms = self.until_ms.min(from_ms);
        } else {
            return Err(reason);
        }
        if self.since_ms >= self.fill.from_ms || self.until_ms <= self.fill.to_ms + MEETS_SHELL_MS {
            return Err(reason);
        }
        Ok(())
    }
}

fn fill(
    view: &SessionView,
    group: &FillGroup,
    span: &FillWindow,
    loss: Loss,
    quiet: &[Vec<QuietStretch>],
    heat: HeatModel,
) -> Result<Transfer, Reason> {
    let mut parts = Vec::new();
    for circuit in group.circuits() {
        let (one, quiet) = (&view.circuits[circuit], &quiet[circuit]);
        let at = group.of_circuit(circuit);
        let before = (quiet.iter().rposition(|s| s.to_ms <= at.from_ms)).ok_or(Reason::Unread)?;
        let after = (quiet.iter().position(|s| s.from_ms >= at.to_ms)).ok_or(Reason::Unread)?;
        let (first, last) = (quiet[before].to_ms, quiet[after].from_ms);
        if (one.dumps.iter()).any(|d| d.to_ms > first && d.from_ms < last) {
            return Err(Reason::Dumped);
        }
        let settled = |i: usize, state: Equilibrium| {
            state(one, &quiet[i], amplitude(one, quiet, i), heat).ok_or(Reason::Unsettled)
        };
        parts.push(Part {
            circuit,
            before: settled(before, at_end)?,
            after: settled(after, at_start)?,
        });
    }
    Ok(Transfer {
        from_ms: group.at.from_ms,
        settled_s: seconds(
            group.at.to_ms,
            span.until_ms.min(group.at.to_ms + LATEST_MS),
        ),
        loss: Some(loss),
        parts,
    })
}

/// State of a corner at equilibrium, and its error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SettledState {
    /// State when the air has the temperature of its surroundings.
    pub state: State,
    /// Standard error of the air in a usual corner, as a share.
    pub share_se: f64,
}

type Equilibrium = fn(&CircuitView, &QuietStretch, f64, HeatModel) -> Option<SettledState>;

/// What is known of the temperature left after the disturbance before a stretch: the
/// isentropic change at most, as a share.
fn amplitude(circuit: &CircuitView, quiet: &[QuietStretch], i: usize) -> f64 {
    let stretch = &quiet[i];
    let mean = |from_ms, to_ms| circuit.kpa_abs.mean(from_ms, to_ms).map(|m| m.mean);
    let before = match (stretch.began, i.checked_sub(1).and_then(|k| quiet.get(k))) {
        (StretchEdge::Move | StretchEdge::Load, Some(before)) => mean(
            before.from_ms.max(before.to_ms - MEETS_WALL_MS),
            before.to_ms,
        ),
        _ => None,
    };
    let from_ms = stretch.from_ms + MEETS_WALL_MS;
    let after = mean(from_ms, stretch.to_ms.min(from_ms + MEETS_WALL_MS));
    match (before, after) {
        (Some(before), Some(after)) => MIXED_SHARE + ISENTROPIC * (after / before).ln().abs(),
        _ => UNKNOWN_SHARE,
    }
}

fn at_start(
    circuit: &CircuitView,
    stretch: &QuietStretch,
    amplitude: f64,
    heat: HeatModel,
) -> Option<SettledState> {
    let to_ms = stretch.to_ms.min(stretch.from_ms + LATEST_MS);
    let window = window(stretch, stretch.from_ms + MEETS_WALL_MS, to_ms, heat);
    equilibrium(circuit, window, amplitude)
}

fn at_end(
    circuit: &CircuitView,
    stretch: &QuietStretch,
    amplitude: f64,
    heat: HeatModel,
) -> Option<SettledState> {
    let from_ms = (stretch.from_ms + MEETS_WALL_MS).max(stretch.to_ms - LATEST_MS);
    let window = window(stretch, from_ms, stretch.to_ms, heat);
    equilibrium(circuit, window, amplitude)
}

fn window(stretch: &QuietStretch, from_ms: i64, to_ms: i64, heat: HeatModel) -> SettlingWindow {
    SettlingWindow {
        disturbed_ms: stretch.from_ms,
        from_ms,
        to_ms,
        tau_s: heat.wall_s,
    }
}

fn equilibrium(
    circuit: &CircuitView,
    window: SettlingWindow,
    amplitude: f64,
) -> Option<SettledState> {
    let kelvin = kelvin(&circuit.kelvin, window.to_ms);
    let rough = circuit.kpa_abs.mean(window.from_ms, window.to_ms)?.mean;
    let kpa = settled(&circuit.kpa_abs, window, amplitude * rough, |t_ms, kpa| {
        Some(kpa * kelvin / self::kelvin(&circuit.kelvin, t_ms))
    })?;
    let mm = if circuit.mm.is_empty() {
        Settled {
            value: f64::NAN,
            se: 0.0,
        }
    } else {
        settled(&circuit.mm, window, amplitude * USUAL_LENGTH_MM, |_, mm| {
            Some(mm)
        })?
    };
    Some(SettledState {
        state: State {
            kpa_abs: kpa.value,
            kelvin,
            mm: mm.value,
        },
        share_se: (kpa.se / kpa.value).hypot(mm.se / USUAL_LENGTH_MM),
    })
}

/// Temperature at a time, on the line between its readings, else of the time before;
/// 20 °C without any.
fn kelvin(series: &Series, t_ms: i64) -> f64 {
    series
        .at(t_ms, 2 * KELVIN_HOLDS_MS)
        .or_else(|| (series.mean(t_ms - KELVIN_HOLDS_MS, t_ms + 1)).map(|m| m.mean))
        .unwrap_or(ANR_K)
}
