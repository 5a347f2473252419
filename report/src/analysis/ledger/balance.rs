//! The books of a window.

use super::super::air::Vessel;
use super::super::estimate::Estimate;
use super::super::leak::PooledLeak;
use super::super::moves::{Direction, Move};
use super::super::segment::Rest;
use super::quiet::{QuietEnds, QuietMoment, rest_ends};

/// What the books are made of. Moves and runs are those of the whole log; what lies
/// outside the window is left out.
#[derive(Debug, Clone, Copy)]
pub struct LedgerInput<'a> {
    /// Circuits, then the tank.
    pub vessels: &'a [Vessel],
    /// Rests of all of them.
    pub rests: &'a [Rest],
    /// Moves in order of time.
    pub moves: &'a [Move],
    /// Begin and end of compressor runs, log time ms: also of those that are cut off at an
    /// end of a session, whose delivery cannot be measured.
    pub runs_ms: &'a [(i64, i64)],
    /// Losses at rest.
    pub leaks: &'a [PooledLeak],
    /// Places with a thermometer of their own.
    pub own_thermometers: &'a [String],
    /// Begin and end, log time s.
    pub window_s: (f64, f64),
}

/// The books of one volume, ANR L.
#[derive(Debug, Clone, PartialEq)]
pub struct VolumeEntry {
    /// Circuit, or `tank`.
    pub place: String,
    /// First and last quiet moment, log time s: what is counted lies between.
    pub span_s: (f64, f64),
    /// Air at the end less air at the begin.
    pub change: Estimate,
    /// What came: by fills; into the tank by the compressor.
    pub came: Estimate,
    /// What went by valves: vented; from the tank into the corners.
    pub went: Estimate,
    /// What leaked.
    pub leaked: Estimate,
    /// `change − came + went + leaked`: zero where the books close.
    pub unexplained: Estimate,
}

/// The books of a window.
#[derive(Debug, Clone, PartialEq)]
pub struct Ledger {
    /// One entry per volume with two quiet moments, in the rig's order.
    pub volumes: Vec<VolumeEntry>,
    /// Moves of the window.
    pub moves: usize,
}

/// The books of every volume of a window.
///
/// A corner: `N₁ − N₀ = filled − vented − leaked + unexplained`. The tank:
/// `N₁ − N₀ = delivered − moved to corners − leaked + unexplained`, where delivered is
/// what the tank gained from the quiet moment before a run to the one after it, with
/// what it gave to corners and leaked meanwhile. So what is unexplained of the tank
/// stems from the stretches without a run. Amounts are taken in quiet moments, when the
/// heat of moves and runs has gone.
///
/// **Units**: ANR L. `None` for a volume with fewer than two quiet moments.
#[must_use]
pub fn balance(input: &LedgerInput) -> Ledger {
    let entries = input.vessels.iter().filter_map(|vessel| {
        let own = input.own_thermometers.contains(&vessel.place);
        let ends = rest_ends(vessel, input.rests, own, input.window_s);
        if vessel.is_relative() {
            None
        } else if vessel.is_spring() {
            corner(input, vessel, &ends)
        } else {
            tank(input, vessel, &ends)
        }
    });
    let (from_s, to_s) = input.window_s;
    Ledger {
        volumes: entries.collect(),
        moves: moves_within(input, from_s, to_s).count(),
    }
}

fn moves_within<'a>(
    input: &LedgerInput<'a>,
    from_s: f64,
    to_s: f64,
) -> impl Iterator<Item = &'a Move> {
    let inside =
        move |m: &&Move| m.from_ms as f64 >= 1000.0 * from_s && m.to_ms as f64 <= 1000.0 * to_s;
    input.moves.iter().filter(inside)
}

/// A sum of amounts with errors of their own and errors that all of a path share.
#[derive(Debug, Default)]
struct Sum {
    value: f64,
    own: f64,
    /// Per circuit and cause.
    shared: Vec<(String, Vec<f64>)>,
}

impl Sum {
    fn add(&mut self, m: &Move) {
        self.value += m.amount_anr_l.abs();
        self.own = self.own.hypot(m.amount_error.own_l);
        let sign = m.amount_anr_l.signum();
        if !self.shared.iter().any(|s| s.0 == m.place) {
            let none = vec![0.0; m.amount_error.shared_l.len()];
            self.shared.push((m.place.clone(), none));
        }
        let sums = self.shared.iter_mut().filter(|s| s.0 == m.place);
        for (_, sums) in sums {
            for (sum, l) in sums.iter_mut().zip(&m.amount_error.shared_l) {
                *sum += sign * l;
            }
        }
    }

    fn of<'a>(moves: impl Iterator<Item = &'a Move>) -> Self {
        let mut out = Sum::default();
        moves.for_each(|m| out.add(m));
        out
    }

    fn shared(&self) -> f64 {
        let all = self.shared.iter().flat_map(|s| &s.1);
        all.map(|l| l * l).sum::<f64>().sqrt()
    }

    fn estimate(&self) -> Estimate {
        known(self.value, self.own.hypot(self.shared()))
    }
}

fn known(value: f64, se: f64) -> Estimate {
    Estimate {
        value,
        se,
        degrees_of_freedom: 1e9,
    }
}

fn leaked(input: &LedgerInput, place: &str, seconds: f64) -> Estimate {
    let own = input.leaks.iter().find(|l| l.place == place);
    own.map_or(known(0.0, 0.0), |l| {
        let rate = &l.loss_l_per_s;
        // A loss that the interval puts at no less than zero is still an estimate.
        Estimate {
            value: rate.value * seconds,
            se: rate.se * seconds,
            degrees_of_freedom: rate.degrees_of_freedom,
        }
    })
}

fn corner(input: &LedgerInput, vessel: &Vessel, ends: &[QuietEnds]) -> Option<VolumeEntry> {
    let (first, last) = (ends.first()?.begin, ends.last()?.end);
    if last.t_s <= first.t_s {
        return None;
    }
    let own = |direction: Direction| {
        let moves = moves_within(input, first.t_s, last.t_s);
        Sum::of(moves.filter(|m| m.place == vessel.place && m.direction == direction))
    };
    let (filled, vented) = (own(Direction::Fill), own(Direction::Dump));
    let leaked = leaked(input, &vessel.place, last.t_s - first.t_s);
    let change = last.anr_l - first.anr_l;
    let change_se = first.se_l.hypot(last.se_l);
    // The volume's error is the same in the change and in the moves: it cancels. Each
    // move is told by readings next to it; what heat remains there does not.
    let heat = filled.shared().hypot(vented.shared());
    let moved_se = filled.own.hypot(vented.own).hypot(heat);
    let unexplained = change - filled.value + vented.value + leaked.value;
    Some(VolumeEntry {
        place: vessel.place.clone(),
        span_s: (first.t_s, last.t_s),
        change: known(change, change_se.hypot(vessel.volume_uncertainty * change)),
        came: filled.estimate(),
        went: vented.estimate(),
        unexplained: known(unexplained, change_se.hypot(moved_se).hypot(leaked.se)),
        leaked,
    })
}

/// Quiet moments of the tank around a stretch, and whether a compressor ran in it.
struct TankStretch {
    from: QuietMoment,
    to: QuietMoment,
    ran: bool,
}

/// The whole span, cut where runs begin and end.
fn stretches(input: &LedgerInput, ends: &[QuietEnds]) -> Vec<TankStretch> {
    let ran = |from_s: f64, to_s: f64| {
        let inside = |r: &(i64, i64)| r.1 as f64 > 1000.0 * from_s && (r.0 as f64) < 1000.0 * to_s;
        input.runs_ms.iter().any(inside)
    };
    let mut out: Vec<TankStretch> = Vec::new();
    for (i, rest) in ends.iter().enumerate() {
        let mut push = |from: QuietMoment, to: QuietMoment, ran: bool| match out.last_mut() {
            Some(last) if !last.ran && !ran => last.to = to,
            _ => out.push(TankStretch { from, to, ran }),
        };
        if let Some(before) = i.checked_sub(1).map(|k| ends[k].end) {
            push(before, rest.begin, ran(before.t_s, rest.begin.t_s));
        }
        push(rest.begin, rest.end, false);
    }
    out
}

fn tank(input: &LedgerInput, vessel: &Vessel, ends: &[QuietEnds]) -> Option<VolumeEntry> {
    let (first, last) = (ends.first()?.begin, ends.last()?.end);
    let u = vessel.volume_uncertainty;
    let fills = |from_s: f64, to_s: f64| {
        moves_within(input, from_s, to_s).filter(|m| m.direction == Direction::Fill)
    };
    let all = stretches(input, ends);
    let mut delivered = (0.0, 0.0);
    let mut delivered_moves = Vec::new();
    let (mut gap, mut gap_se, mut gap_change) = (0.0, 0.0_f64, 0.0);
    let mut gap_moves = Vec::new();
    let mut gap_s = 0.0;
    for s in &all {
        let change = s.to.anr_l - s.from.anr_l;
        let se = s.from.se_l.hypot(s.to.se_l);
        let moved: Vec<&Move> = fills(s.from.t_s, s.to.t_s).collect();
        let taken: f64 = moved.iter().map(|m| m.amount_anr_l).sum();
        let lost = leaked(input, "tank", s.to.t_s - s.from.t_s).value;
        if s.ran {
            delivered = (
                delivered.0 + change + taken + lost,
                f64::hypot(delivered.1, se),
            );
            delivered_moves.extend(moved);
        } else {
            gap += change + taken + lost;
            gap_se = gap_se.hypot(se);
            gap_change += change;
            gap_s += s.to.t_s - s.from.t_s;
            gap_moves.extend(moved);
        }
    }
    let leaked_all = leaked(input, "tank", last.t_s - first.t_s);
    let change = last.anr_l - first.anr_l;
    let into_runs = Sum::of(delivered_moves.into_iter());
    let in_gaps = Sum::of(gap_moves.into_iter());
    let gap_error = gap_se
        .hypot(u * gap_change)
        .hypot(in_gaps.own.hypot(in_gaps.shared()))
        .hypot(leaked(input, "tank", gap_s).se);
    let came_se = delivered
        .1
        .hypot(u * (delivered.0 - into_runs.value))
        .hypot(into_runs.estimate().se);
    Some(VolumeEntry {
        place: vessel.place.clone(),
        span_s: (first.t_s, last.t_s),
        change: known(change, first.se_l.hypot(last.se_l).hypot(u * change)),
        came: known(delivered.0, came_se),
        went: Sum::of(fills(first.t_s, last.t_s)).estimate(),
        leaked: leaked_all,
        unexplained: known(gap, gap_error),
    })
}
