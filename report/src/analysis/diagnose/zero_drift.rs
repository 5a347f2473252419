//! A pressure sensor whose zero drifts: pressure at the same height changes from
//! day to day, and creeps alike while nothing moves.

use super::super::estimate::Estimate;
use super::super::regression::{Term, regress};
use super::super::segment::{Rest, RestPoint};
use super::super::stats::mean;

/// A corner to look at.
#[derive(Debug, Clone, PartialEq)]
pub struct DriftPlace {
    /// Circuit.
    pub place: String,
    /// The other circuit of its axle.
    pub mate: Option<String>,
    /// Heights below this are on or near the stop, where the pressure says
    /// nothing about the load, mm.
    pub free_above_mm: f64,
}

/// A drifting zero.
#[derive(Debug, Clone, PartialEq)]
pub struct ZeroDrift {
    /// Circuit, or `tank`.
    pub place: String,
    /// Drift from day to day at the same height (against its mate where it has
    /// one), kPa a day.
    pub kpa_per_day: Estimate,
    /// Creep within rests, kPa a day.
    pub within_kpa_per_day: Estimate,
    /// Days it was seen over.
    pub days: f64,
    /// Rests behind it.
    pub rests: usize,
    /// Share of the likelihood against the other explanations (its mate's
    /// sensor, a changed load).
    pub probability: f64,
}

/// A rest shorter than this does not count, s.
const SHORTEST_S: f64 = 1_800.0;

/// The first part of a rest, when air and rubber settle, s.
const SETTLE_S: f64 = 600.0;

/// A rest shorter than this says nothing about creep, s.
const CREEP_S: f64 = 2.0 * 3_600.0;

/// Drift over the log below this is not called one, kPa.
const LEAST_KPA: f64 = 8.0;

/// It must be this many standard errors …
const LEAST_T: f64 = 5.0;

/// … and without a mate the creep must agree at this many of its own.
const CREEP_T: f64 = 3.0;

/// Rests needed.
const FEWEST: usize = 8;

/// Change of load from day to day that a pair may share (fuel, luggage), one
/// standard deviation, kPa a day. A prior: common practice, no source.
const SHARED_KPA_PER_DAY: f64 = 2.5;

#[derive(Debug, Clone, Copy)]
struct Level {
    day: f64,
    kpa: f64,
    mm: f64,
}

/// Drifting sensors among the corners.
#[must_use]
pub fn zero_drifts(places: &[DriftPlace], rests: &[Rest]) -> Vec<ZeroDrift> {
    let mut out: Vec<ZeroDrift> = Vec::new();
    for place in places {
        let found = match place
            .mate
            .as_ref()
            .and_then(|m| places.iter().find(|p| p.place == *m))
        {
            Some(mate) if out.iter().any(|d| d.place == mate.place) => None,
            Some(mate) if place.place < mate.place => of_pair(place, mate, rests),
            Some(_) => None,
            None => alone(place, rests),
        };
        out.extend(found);
    }
    out
}

fn alone(place: &DriftPlace, rests: &[Rest]) -> Option<ZeroDrift> {
    let own = own(place, rests);
    let levels: Vec<Level> = own.iter().filter_map(|r| level(r, place, None)).collect();
    let (across, per_mm) = trend(&levels)?;
    let within = creep(&own, place, per_mm)?;
    let days = span(&levels);
    let agrees = within.value * across.value > 0.0
        && within.value.abs() > CREEP_T * within.se
        && (within.value - across.value).abs() < 0.5 * across.value.abs() + 2.0 * within.se;
    (sure(&across, days) && agrees).then(|| ZeroDrift {
        place: place.place.clone(),
        kpa_per_day: across,
        within_kpa_per_day: within,
        days,
        rests: levels.len(),
        probability: 0.95,
    })
}

/// The difference of a pair does not know loads that both carry. Which of the
/// two drifts, the creep at rest and the size of the shared change tell.
fn of_pair(a: &DriftPlace, b: &DriftPlace, rests: &[Rest]) -> Option<ZeroDrift> {
    let (own_a, own_b) = (own(a, rests), own(b, rests));
    let mut pairs = Vec::new();
    for rest in &own_a {
        let (Some(x), Some(y)) = (
            level(rest, a, None),
            own_b.iter().find_map(|r| level(r, b, Some(*rest))),
        ) else {
            continue;
        };
        pairs.push((x, y));
    }
    let difference = pair_trend(&pairs)?;
    let days = pairs.last()?.0.day - pairs.first()?.0.day;
    if !sure(&difference, days) {
        return None;
    }
    let of = |own: &[&Rest], place: &DriftPlace, pick: &dyn Fn(&(Level, Level)) -> Level| {
        let levels: Vec<Level> = pairs.iter().map(pick).collect();
        let (across, per_mm) = trend(&levels)?;
        Some((across, creep(own, place, per_mm)?))
    };
    let (across_a, within_a) = of(&own_a, a, &|p| p.0)?;
    let (across_b, within_b) = of(&own_b, b, &|p| p.1)?;
    let s = difference.value;
    let cost = |drift_a: f64, drift_b: f64, shared: f64| {
        ((within_a.value - drift_a) / within_a.se).powi(2)
            + ((within_b.value - drift_b) / within_b.se).powi(2)
            + (shared / SHARED_KPA_PER_DAY).powi(2)
    };
    let a_drifts = cost(s, 0.0, across_b.value);
    let b_drifts = cost(0.0, -s, across_a.value);
    // A difference of loads that grew moves both ways at once and creeps nowhere.
    let load = cost(0.0, 0.0, 0.0) + (s / SHARED_KPA_PER_DAY).powi(2);
    let likelihood = [a_drifts, b_drifts, load].map(|c| (-0.5 * c.min(1_400.0)).exp());
    let total: f64 = likelihood.iter().sum();
    let best = if a_drifts < b_drifts { 0 } else { 1 };
    let probability = likelihood[best] / total.max(f64::MIN_POSITIVE);
    if probability < 0.8 {
        return None;
    }
    let (place, sign, within) = [(a, 1.0, within_a), (b, -1.0, within_b)][best];
    Some(ZeroDrift {
        place: place.place.clone(),
        kpa_per_day: difference.scaled(sign),
        within_kpa_per_day: within,
        days,
        rests: pairs.len(),
        probability,
    })
}

fn sure(drift: &Estimate, days: f64) -> bool {
    drift.value.abs() * days > LEAST_KPA && drift.value.abs() > LEAST_T * drift.se
}

fn own<'a>(place: &DriftPlace, rests: &'a [Rest]) -> Vec<&'a Rest> {
    rests.iter().filter(|r| r.place == place.place).collect()
}

fn span(levels: &[Level]) -> f64 {
    match (levels.first(), levels.last()) {
        (Some(a), Some(b)) => b.day - a.day,
        _ => 0.0,
    }
}

/// Settled readings off the stop.
fn settled<'a>(rest: &'a Rest, place: &DriftPlace) -> Vec<&'a RestPoint> {
    let start_s = rest.points.first().map_or(0.0, |p| p.t_s);
    let free_above_mm = place.free_above_mm;
    let good = |p: &&RestPoint| p.t_s - start_s >= SETTLE_S && p.mm > free_above_mm;
    rest.points.iter().filter(good).collect()
}

/// Mean pressure and height, over the time it shares with another rest.
fn level(rest: &Rest, place: &DriftPlace, with: Option<&Rest>) -> Option<Level> {
    let bounds = match with {
        Some(other) => (other.points.first()?.t_s, other.points.last()?.t_s),
        None => (f64::NEG_INFINITY, f64::INFINITY),
    };
    let points: Vec<&RestPoint> = settled(rest, place)
        .into_iter()
        .filter(|p| p.t_s >= bounds.0 && p.t_s <= bounds.1)
        .collect();
    let (first, last) = (points.first()?.t_s, points.last()?.t_s);
    if last - first < SHORTEST_S - SETTLE_S {
        return None;
    }
    let all =
        |f: &dyn Fn(&RestPoint) -> f64| mean(&points.iter().map(|p| f(p)).collect::<Vec<_>>());
    Some(Level {
        day: all(&|p| p.t_s)? / 86_400.0,
        kpa: all(&|p| p.kpa_abs)?,
        mm: all(&|p| p.mm)?,
    })
}

/// Change per day at the same height, and pressure per millimetre.
fn trend(levels: &[Level]) -> Option<(Estimate, f64)> {
    if levels.len() < FEWEST {
        return None;
    }
    let column = |f: &dyn Fn(&Level) -> f64| levels.iter().map(f).collect::<Vec<f64>>();
    let days = centred(&column(&|l| l.day));
    let mm = centred(&column(&|l| l.mm));
    let y = column(&|l| l.kpa);
    let (slope, rest) = slope(&days, &[&mm], &y)?;
    Some((slope, rest[0]))
}

fn pair_trend(pairs: &[(Level, Level)]) -> Option<Estimate> {
    if pairs.len() < FEWEST {
        return None;
    }
    let column = |f: &dyn Fn(&(Level, Level)) -> f64| pairs.iter().map(f).collect::<Vec<f64>>();
    let days = centred(&column(&|p| p.0.day));
    let mean_mm = centred(&column(&|p| f64::midpoint(p.0.mm, p.1.mm)));
    let twist_mm = centred(&column(&|p| p.0.mm - p.1.mm));
    let y = column(&|p| p.0.kpa - p.1.kpa);
    slope(&days, &[&mean_mm, &twist_mm], &y).map(|s| s.0)
}

/// Slope of `y` over `x` beside other columns, and the others' coefficients.
fn slope(x: &[f64], others: &[&Vec<f64>], y: &[f64]) -> Option<(Estimate, Vec<f64>)> {
    let mut terms = vec![Term::free(vec![1.0; y.len()]), Term::free(x.to_vec())];
    let moves = |column: &Vec<f64>| column.iter().any(|v| v.abs() > 1.0);
    for column in others.iter().filter(|c| moves(c)) {
        terms.push(Term::free((*column).clone()));
    }
    let fit = regress(&terms, y, &vec![1.0; y.len()])?;
    let estimate = Estimate {
        value: fit.values[1],
        se: fit.standard_errors[1],
        degrees_of_freedom: fit.degrees_of_freedom,
    };
    let mut rest = fit.values[2..].to_vec();
    rest.resize(others.len(), 0.0);
    Some((estimate, rest))
}

fn centred(values: &[f64]) -> Vec<f64> {
    let middle = mean(values).unwrap_or(0.0);
    values.iter().map(|v| v - middle).collect()
}

/// Change of pressure within rests, kPa a day: the sum of all changes over the
/// sum of all times; the error from how the changes scatter.
fn creep(rests: &[&Rest], place: &DriftPlace, per_mm: f64) -> Option<Estimate> {
    let mut changes = Vec::new();
    let mut days = 0.0;
    for rest in rests {
        let points = settled(rest, place);
        let (Some(first), Some(last)) = (points.first(), points.last()) else {
            continue;
        };
        let seconds = last.t_s - first.t_s;
        if seconds < CREEP_S {
            continue;
        }
        let part = |from: f64, to: f64| -> Option<f64> {
            let inside = points.iter().filter(|p| {
                let share = (p.t_s - first.t_s) / seconds;
                share >= from && share <= to
            });
            mean(
                &inside
                    .map(|p| p.kpa_abs - per_mm * p.mm)
                    .collect::<Vec<_>>(),
            )
        };
        if let (Some(a), Some(b)) = (part(0.0, 0.1), part(0.9, 1.0)) {
            changes.push(b - a);
            days += 0.9 * seconds / 86_400.0;
        }
    }
    let n = changes.len();
    if n < 4 || days <= 0.0 {
        return None;
    }
    let sd = super::super::stats::sd(&changes)?;
    Some(Estimate {
        value: changes.iter().sum::<f64>() / days,
        se: (sd * (n as f64).sqrt() / days).max(1e-3),
        degrees_of_freedom: (n - 1) as f64,
    })
}

#[cfg(test)]
mod tests;
