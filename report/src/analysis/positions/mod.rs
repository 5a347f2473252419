//! Usual positions: the few heights that a driver comes back to.

mod group;
#[cfg(test)]
mod tests;

use super::moves::{Drive, Move, by_drive};
use super::stats::{median, robust_sd, theil_sen};
use group::{Visit, groups, visits};
use seep_common::rig::NamedPosition;

/// A position that the car came back to.
#[derive(Debug, Clone, PartialEq)]
pub struct Position {
    /// What the rig calls it.
    pub name: Option<String>,
    /// Each corner that moved there, in order of name.
    pub corners: Vec<CornerAt>,
    /// Times it was reached.
    pub visits: usize,
    /// From the first valve until every corner stayed within tolerance, s: median of the
    /// visits that tell it.
    pub arrival_s: Option<f64>,
    /// Slowest of these.
    pub slowest_s: Option<f64>,
    /// How that time grows, s per 30 days; see [`MonthlyDrift`].
    pub arrival_s_per_month: Option<MonthlyDrift>,
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
    /// Its middle above the height that the rig gives for the name, mm.
    pub off_mm: Option<f64>,
    /// Drift, mm per 30 days; see [`MonthlyDrift`].
    pub drift_mm_per_month: Option<MonthlyDrift>,
}

/// Theil–Sen slope per 30 days over drives, each with the median of its visits, and its
/// 95 % interval: visits of one drive share load and weather. `None` with fewer than six
/// drives, or less than a day between the first and the last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonthlyDrift {
    /// The slope.
    pub value: f64,
    /// Lower end of its interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Visits that make a place a usual one.
const LEAST_VISITS: usize = 3;

/// Drives that show a drift.
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
/// A group bears the name of the rig whose heights all of its corners are nearest to,
/// each within `near_mm`.
///
/// **Units**: mm, s. Drift: [`MonthlyDrift`].
#[must_use]
pub fn positions(moves: &[Move], near_mm: f64, named: &[NamedPosition]) -> Vec<Position> {
    let visits = visits(moves);
    let mut out: Vec<Position> = groups(&visits, near_mm)
        .into_iter()
        .filter(|group| group.len() >= LEAST_VISITS)
        .filter_map(|group| position(&group))
        .map(|position| position.named(named, near_mm))
        .collect();
    out.sort_by_key(|p| std::cmp::Reverse(p.visits));
    out
}

impl Position {
    /// The same with the nearest name of the rig.
    fn named(mut self, all: &[NamedPosition], near_mm: f64) -> Self {
        let furthest = |n: &NamedPosition| -> Option<f64> {
            let off = |c: &CornerAt| Some((c.mm - n.mm.get(&c.place)?).abs());
            let off: Option<Vec<f64>> = self.corners.iter().map(off).collect();
            off?.into_iter()
                .reduce(f64::max)
                .filter(|mm| *mm <= near_mm)
        };
        let near = all.iter().filter_map(|n| Some((n, furthest(n)?)));
        let Some((nearest, _)) = near.min_by(|a, b| a.1.total_cmp(&b.1)) else {
            return self;
        };
        for c in &mut self.corners {
            c.off_mm = nearest.mm.get(&c.place).map(|mm| c.mm - mm);
        }
        self.name = Some(nearest.name.clone());
        self
    }
}

fn position(group: &[&Visit]) -> Option<Position> {
    let mut places: Vec<&String> = group.iter().flat_map(|v| v.mm.keys()).collect();
    places.sort();
    places.dedup();
    let arrived = group.iter().filter_map(|v| Some((v.t_ms, v.arrival_s?)));
    let (t_ms, arrivals): (Vec<i64>, Vec<f64>) = arrived.unzip();
    let corners: Vec<CornerAt> = places
        .into_iter()
        .filter_map(|p| corner(p, group))
        .collect();
    (!corners.is_empty()).then(|| Position {
        name: None,
        corners,
        visits: group.len(),
        arrival_s: median(&arrivals),
        slowest_s: arrivals.iter().copied().reduce(f64::max),
        arrival_s_per_month: drift(&arrivals, &t_ms),
    })
}

fn corner(place: &str, group: &[&Visit]) -> Option<CornerAt> {
    let seen = group
        .iter()
        .filter_map(|v| Some((v.t_ms, *v.mm.get(place)?)));
    let (t_ms, mm): (Vec<i64>, Vec<f64>) = seen.unzip();
    Some(CornerAt {
        place: place.into(),
        mm: median(&mm)?,
        off_mm: None,
        within_mm: HALF_WITHIN * robust_sd(&mm)?,
        drift_mm_per_month: drift(&mm, &t_ms),
    })
}

fn drift(values: &[f64], t_ms: &[i64]) -> Option<MonthlyDrift> {
    let drives = by_drive(values, t_ms);
    let days: Vec<f64> = drives.iter().map(|d| d.day).collect();
    let middles: Vec<f64> = drives.iter().map(Drive::middle).collect();
    let enough = drives.len() >= FEWEST_FOR_DRIFT && days.last()? - days.first()? >= 1.0;
    let slope = enough.then(|| theil_sen(&days, &middles, 0.95)).flatten()?;
    Some(MonthlyDrift {
        value: MONTH_DAYS * slope.slope,
        low: MONTH_DAYS * slope.interval.low,
        high: MONTH_DAYS * slope.interval.high,
    })
}
