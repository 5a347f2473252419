//! Which path got slow: valve, line, supply or exhaust.

use super::super::estimate::Estimate;
use super::super::moves::{Direction, MoveTrend};
use super::rank_paths;
use super::shared::shared_change;
use crate::conclusion::Conclusion;

/// A slow path with its evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct PathFinding {
    /// What is slow.
    pub fault: Conclusion,
    /// The trends it rests on.
    pub trends: Vec<MoveTrend>,
    /// Probability that the slowing is no accident.
    pub probability: f64,
    /// Every explanation with its share of the likelihood, most likely first.
    pub ranking: Vec<(Conclusion, f64)>,
    /// True when it got slower during the log, false when it is slow throughout.
    pub developing: bool,
}

/// A path this much below its own start is slow.
pub(super) const SLOWED: f64 = 0.85;

/// A path this much below the other corner of its axle is slow.
pub(super) const SLOWER_THAN_MATE: f64 = 0.65;

/// Moves needed of either.
pub(super) const FEWEST_MATES: usize = 4;

/// A change is believed below this one-sided p value; a car has eight paths,
/// looked at together.
pub(super) const CHANGE_P: f64 = 5e-4;

/// The same against the other corner of the axle, two-sided.
const MATE_P: f64 = 0.001;

/// Paths that are to bear each other out must each have fallen below this share
/// of their start …
const FELL_TOO: f64 = 0.94;

/// … with this one-sided p value.
const FELL_TOO_P: f64 = 0.05;

/// A path beyond doubt slow, and how it shows.
struct FoundSlow<'a> {
    trend: &'a MoveTrend,
    developing: bool,
    p: f64,
}

/// Explain the trends of all paths. `mate_of` gives the other circuit of the axle,
/// `line_hidden` whether the pressure of a circuit is read before its line: its readings
/// then give the conductance of the valves, and no change of it is the line's.
///
/// Each path that got slow beyond doubt is explained by the likeliest of the
/// causes that could make it slow; what that cause explains is not told again.
#[must_use]
pub fn explain_paths(
    trends: &[MoveTrend],
    mate_of: impl Fn(&str) -> Option<String>,
    line_hidden: impl Fn(&str) -> bool,
) -> Vec<PathFinding> {
    let mut slow: Vec<FoundSlow> = trends
        .iter()
        .filter_map(|t| slow(t, trends, &mate_of, &line_hidden))
        .collect();
    // What got slow first: against a partner that got slow, nothing is slow.
    slow.sort_by(|a, b| b.developing.cmp(&a.developing).then(a.p.total_cmp(&b.p)));
    let mut out: Vec<PathFinding> = [Direction::Fill, Direction::Dump]
        .into_iter()
        .filter_map(|direction| slowed_together(trends, direction, &mate_of))
        .collect();
    slow.retain(|s| !out.iter().any(|found| covers(&found.fault, s.trend)));
    while let Some(first) = slow.first() {
        let developing = first.developing;
        let place = &first.trend.place;
        let mut ranking = rank_paths(trends, place, developing, &mate_of);
        if line_hidden(place) {
            without_line(&mut ranking);
        }
        let own = own_path(first.trend);
        let names_it = |r: &&(Conclusion, f64)| covers(&r.0, first.trend);
        let fault = ranking.iter().find(names_it).map_or(own, |r| r.0.clone());
        let (told, rest): (Vec<FoundSlow>, Vec<FoundSlow>) =
            slow.into_iter().partition(|s| covers(&fault, s.trend));
        slow = rest;
        out.push(PathFinding {
            trends: told.iter().map(|s| s.trend.clone()).collect(),
            probability: 1.0 - told.iter().map(|s| s.p).fold(1.0, f64::min),
            fault,
            ranking,
            developing,
        });
    }
    out
}

/// Supply or exhaust, where without heights only one direction against the other tells.
fn slowed_together(
    trends: &[MoveTrend],
    direction: Direction,
    mate_of: &impl Fn(&str) -> Option<String>,
) -> Option<PathFinding> {
    let shared = shared_change(trends, direction)?;
    let all_fell = shared
        .paths
        .iter()
        .filter_map(|t| t.ln_change)
        .all(|c| fell(&c));
    let p = shared.common.falls_p();
    if !all_fell || shared.common.value >= SLOWED.ln() || p >= CHANGE_P {
        return None;
    }
    let ranking = rank_paths(&shared.paths, &shared.paths.first()?.place, true, mate_of);
    let fault = ranking.first()?.0.clone();
    let all = shared.paths.iter().all(|t| covers(&fault, t));
    all.then_some(PathFinding {
        fault,
        trends: shared.paths,
        probability: 1.0 - p,
        ranking,
        developing: true,
    })
}

/// The change is a fall beyond the usual.
fn fell(change: &Estimate) -> bool {
    change.value < FELL_TOO.ln() && change.falls_p() < FELL_TOO_P
}

/// Returns whether a fault would make this path slow.
fn covers(fault: &Conclusion, trend: &MoveTrend) -> bool {
    match fault {
        Conclusion::LineRestricted { place } => *place == trend.place,
        Conclusion::FillSlow { place } => {
            *place == trend.place && trend.direction == Direction::Fill
        }
        Conclusion::DumpSlow { place } => {
            *place == trend.place && trend.direction == Direction::Dump
        }
        Conclusion::SupplyRestricted => trend.direction == Direction::Fill,
        Conclusion::ExhaustRestricted => trend.direction == Direction::Dump,
        _ => false,
    }
}

/// Leave the line out, and share its likelihood among the others.
fn without_line(ranking: &mut Vec<(Conclusion, f64)>) {
    ranking.retain(|(fault, _)| !matches!(fault, Conclusion::LineRestricted { .. }));
    let left: f64 = ranking.iter().map(|r| r.1).sum();
    let even = 1.0 / ranking.len().max(1) as f64;
    for r in ranking {
        r.1 = if left > 0.0 { r.1 / left } else { even };
    }
}

/// The valve of a path.
fn own_path(t: &MoveTrend) -> Conclusion {
    let place = t.place.clone();
    match t.direction {
        Direction::Fill => Conclusion::FillSlow { place },
        Direction::Dump => Conclusion::DumpSlow { place },
    }
}

fn slow<'a>(
    t: &'a MoveTrend,
    trends: &[MoveTrend],
    mate_of: &impl Fn(&str) -> Option<String>,
    line_hidden: &impl Fn(&str) -> bool,
) -> Option<FoundSlow<'a>> {
    if let Some(p) = slowed(t, trends, line_hidden(&t.place)) {
        return Some(FoundSlow {
            trend: t,
            developing: true,
            p,
        });
    }
    // Without heights the amounts of two corners cannot be compared.
    let mate = mate_of(&t.place).filter(|_| t.by_height)?;
    let mate = trends
        .iter()
        .find(|m| m.place == mate && m.direction == t.direction)?;
    slower_than_mate(t, mate).map(|p| FoundSlow {
        trend: t,
        developing: false,
        p,
    })
}

/// p value when the path got slower beyond doubt: by itself, or with the other
/// way of its line or the others of its direction, each of which must have
/// fallen too.
fn slowed(t: &MoveTrend, trends: &[MoveTrend], line_hidden: bool) -> Option<f64> {
    let own = t.ln_change?;
    let together = |with: &dyn Fn(&MoveTrend) -> bool| -> Option<Estimate> {
        let all: Vec<Estimate> = trends
            .iter()
            .filter(|o| with(o))
            .filter_map(|o| o.ln_change)
            .collect();
        (all.len() > 1 && all.iter().all(fell)).then(|| Estimate::mean_of(&all))
    };
    let line = together(&|o| o.place == t.place && !line_hidden);
    let shared = together(&|o| o.direction == t.direction);
    [Some(own), line, shared]
        .into_iter()
        .flatten()
        .filter(|c| c.value < SLOWED.ln())
        .map(|c| c.falls_p())
        .filter(|p| *p < CHANGE_P)
        .min_by(f64::total_cmp)
}

/// p value when the path is slower than its mate by more than the scatter of both.
fn slower_than_mate(t: &MoveTrend, mate: &MoveTrend) -> Option<f64> {
    let ratio = t.median_conductance / mate.median_conductance;
    let error = t.median_error().hypot(mate.median_error());
    let z = ratio.ln() / error.max(0.02);
    let p = super::super::stats::normal_two_sided_p(z);
    (ratio < SLOWER_THAN_MATE && p < MATE_P && t.moves.min(mate.moves) >= FEWEST_MATES).then_some(p)
}

#[cfg(test)]
pub(super) mod tests;
