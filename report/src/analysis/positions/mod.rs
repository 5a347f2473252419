//! Usual positions: the few heights that a driver comes back to.

mod group;
#[cfg(test)]
mod tests;

use super::moves::Move;
use super::stats::{median, robust_sd, theil_sen};
use group::{Visit, groups, visits};

/// A position that the car came back to.
#[derive(Debug, Clone, PartialEq)]
pub struct Position {
    /// Each corner that moved there, in order of name.
    pub corners: Vec<CornerAt>,
    /// Times it was reached.
    pub visits: usize,
    /// From the first valve until every corner stayed within tolerance, s: median of the
    /// visits that tell it.
    pub arrival_s: Option<f64>,
    /// Slowest of these.
    pub slowest_s: Option<f64>,
}

/// One corner at a position.
#[derive(Debug, Clone, PartialEq)]
pub struct CornerAt {
    /// Circuit.
    pub place: String,
    /// Median height, mm.
    pub mm: f64,
    /// How close it came: half of the visits end within this of the median, mm.
    pub within_mm: f64,
    /// Drift, mm per 30 days, with its 95 % interval; `None` with fewer than six visits
    /// or less than a day.
    pub drift_mm_per_month: Option<(f64, f64, f64)>,
}

/// Visits that make a place a usual one.
const LEAST_VISITS: usize = 3;

/// Visits that show a drift.
const FEWEST_FOR_DRIFT: usize = 6;

const MONTH_DAYS: f64 = 30.0;

/// Half of all values lie within this many robust standard deviations of their median.
///
/// **Source**: Φ⁻¹(3/4), the factor by which the deviation was scaled.
const HALF_WITHIN: f64 = 0.674_489_750_196_081_7;

/// Positions that moves end at, the most visited first.
///
/// Moves of all corners that follow each other are one visit; visits whose corners lie
/// within `near_mm` of the middle of a group belong to it. Only moves with a height
/// count.
///
/// **Units**: mm, s. Drift: Theil–Sen slope over the visits.
#[must_use]
pub fn positions(moves: &[Move], near_mm: f64) -> Vec<Position> {
    let visits = visits(moves);
    let mut out: Vec<Position> = groups(&visits, near_mm)
        .into_iter()
        .filter(|group| group.len() >= LEAST_VISITS)
        .filter_map(|group| position(&group))
        .collect();
    out.sort_by_key(|p| std::cmp::Reverse(p.visits));
    out
}

fn position(group: &[&Visit]) -> Option<Position> {
    let mut places: Vec<&String> = group.iter().flat_map(|v| v.mm.keys()).collect();
    places.sort();
    places.dedup();
    let arrivals: Vec<f64> = group.iter().filter_map(|v| v.arrival_s).collect();
    let corners: Vec<CornerAt> = places
        .into_iter()
        .filter_map(|p| corner(p, group))
        .collect();
    (!corners.is_empty()).then(|| Position {
        corners,
        visits: group.len(),
        arrival_s: median(&arrivals),
        slowest_s: arrivals.iter().copied().reduce(f64::max),
    })
}

fn corner(place: &str, group: &[&Visit]) -> Option<CornerAt> {
    let seen: Vec<(f64, f64)> = group
        .iter()
        .filter_map(|v| Some((v.t_ms as f64 / 86_400_000.0, *v.mm.get(place)?)))
        .collect();
    let mm: Vec<f64> = seen.iter().map(|s| s.1).collect();
    let days: Vec<f64> = seen.iter().map(|s| s.0).collect();
    let long = days.last()? - days.first()? >= 1.0;
    let slope = (long && mm.len() >= FEWEST_FOR_DRIFT).then(|| theil_sen(&days, &mm, 0.95));
    Some(CornerAt {
        place: place.into(),
        mm: median(&mm)?,
        within_mm: HALF_WITHIN * robust_sd(&mm)?,
        drift_mm_per_month: slope.flatten().map(|s| {
            let month = |v: f64| v * MONTH_DAYS;
            (
                month(s.slope),
                month(s.interval.low),
                month(s.interval.high),
            )
        }),
    })
}
