//! Visits, and which of them belong together.

use super::super::moves::Move;
use super::super::stats::median;
use std::collections::BTreeMap;

/// Where the car came to stand after moves that followed each other.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Visit {
    /// First valve, log time ms.
    pub t_ms: i64,
    /// Height of each corner that moved, mm.
    pub mm: BTreeMap<String, f64>,
    /// From the first valve until the last corner stayed within tolerance, s; `None`
    /// where one did not settle.
    pub arrival_s: Option<f64>,
}

/// Moves closer than this are on the way to one position, ms: controllers move axles or
/// corners one after the other. Common practice, no source.
const TOGETHER_MS: i64 = 60_000;

pub(super) fn visits(moves: &[Move]) -> Vec<Visit> {
    let mut out: Vec<(i64, Visit)> = Vec::new();
    for m in moves {
        let Some((_, mm)) = m.mm else { continue };
        let arrives_s = |since_ms: i64| {
            let later_s = (m.from_ms - since_ms) as f64 / 1000.0;
            m.time_to_height_s.map(|s| s + later_s)
        };
        match out.last_mut() {
            Some((until_ms, visit)) if m.from_ms - *until_ms < TOGETHER_MS => {
                *until_ms = m.to_ms.max(*until_ms);
                visit.mm.insert(m.place.clone(), mm);
                visit.arrival_s = visit
                    .arrival_s
                    .zip(arrives_s(visit.t_ms))
                    .map(|(a, b)| a.max(b));
            }
            _ => {
                let visit = Visit {
                    t_ms: m.from_ms,
                    mm: BTreeMap::from([(m.place.clone(), mm)]),
                    arrival_s: arrives_s(m.from_ms),
                };
                out.push((m.to_ms, visit));
            }
        }
    }
    out.into_iter().map(|v| v.1).collect()
}

/// Groups of visits: the one with the most others near it first, with those; then the
/// same of the rest.
pub(super) fn groups<'a>(visits: &'a [Visit], near_mm: f64) -> Vec<Vec<&'a Visit>> {
    let mut left: Vec<&Visit> = visits.iter().collect();
    let mut out = Vec::new();
    while !left.is_empty() {
        let around = |centre: &BTreeMap<String, f64>| -> Vec<&'a Visit> {
            let near = left
                .iter()
                .copied()
                .filter(|v| is_near(centre, &v.mm, near_mm));
            near.collect()
        };
        let best = left.iter().map(|v| around(&v.mm)).max_by_key(Vec::len);
        let Some(best) = best.filter(|b| !b.is_empty()) else {
            break;
        };
        // Once more around its middle, which chance moves less than a single visit.
        let again = around(&middle(&best));
        let group = if again.len() >= best.len() {
            again
        } else {
            best
        };
        left.retain(|v| !group.iter().any(|g| std::ptr::eq(*g, *v)));
        out.push(group);
    }
    out
}

fn middle(group: &[&Visit]) -> BTreeMap<String, f64> {
    let mut all: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for (place, mm) in group.iter().flat_map(|v| &v.mm) {
        all.entry(place.clone()).or_default().push(*mm);
    }
    all.into_iter()
        .filter_map(|(place, mm)| Some((place, median(&mm)?)))
        .collect()
}

/// Every corner that both know is near, and there is one.
fn is_near(a: &BTreeMap<String, f64>, b: &BTreeMap<String, f64>, near_mm: f64) -> bool {
    let shared = || a.iter().filter_map(|(place, mm)| Some((mm, b.get(place)?)));
    shared().count() > 0 && shared().all(|(x, y)| (x - y).abs() <= near_mm)
}
