//! A pressure sensor whose zero drifts: pressure at the same height changes from
//! day to day, and creeps alike while nothing moves.

use super::super::estimate::Estimate;
use super::super::moves::{ComparedMoves, change as between_thirds};
use super::super::regression::regress;
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
const SHARED_KPA_PER_DAY: f64 = 1.0;

/// The same for a load that changes on one side of an axle alone.
const ONE_SIDED_KPA_PER_DAY: f64 = 1.0;

/// Creep of a sound pair within rests: rubber that settles, air that warms. One
/// standard deviation, kPa a day; from simulated cars, no source.
const CREEP_KPA_PER_DAY: f64 = 3.0;

/// Levels of a sound pair at the same heights differ by this from one part of a
/// log to another, beside their scatter, kPa.
const ALIKE_KPA: f64 = 0.5;

/// A drift faster than this is told from a load and from its mate's sensor by
/// the priors above, with 95 % certainty, kPa a day.
const NAMED_FROM_KPA_PER_DAY: f64 = 2.0;

/// A body that twists shares a change of one corner's load among all four: it falls on
/// that diagonal and rises on the other, on both axles, by as much as their twist
/// stiffnesses have of it. An axle takes at least this share of what the other one takes.
/// Common practice, no source: anti-roll bars of two axles differ by less than three to one.
const WARP_SHARE: f64 = 0.4;

/// Share of the likelihood that a sensor needs to be named.
const LEAST_PROBABILITY: f64 = 0.7;

#[derive(Debug, Clone, Copy)]
struct Level {
    day: f64,
    kpa: f64,
    mm: f64,
}

/// The drifting sensor among the corners.
///
/// Drifts on both axles at once are none: a load or the ground that shifts across the
/// car or across its diagonal moves both pairs, and is one cause where sensors would
/// have to be two.
///
/// A sensor moves its own axle alone: its difference from left to right has parts of roll
/// and of warp that cancel on the other axle. So a drift is named only where the other
/// axle's difference is surely smaller than a twist of the body would make it.
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
        out.extend(found.filter(|d| !is_warp(d, places, rests)));
    }
    if out.len() > 1 { Vec::new() } else { out }
}

/// The other axle moves by as much as a twist of the body would make it, or may do so.
fn is_warp(found: &ZeroDrift, places: &[DriftPlace], rests: &[Rest]) -> bool {
    let share = WARP_SHARE * found.kpa_per_day.value.abs();
    other_axles(&found.place, places, rests).any(|d| d.value.abs() + 1.645 * d.se > share)
}

/// What the difference of the corners does on every other axle, kPa a day.
fn other_axles<'a>(
    place: &'a str,
    places: &'a [DriftPlace],
    rests: &'a [Rest],
) -> impl Iterator<Item = Estimate> + 'a {
    let first = |p: &&DriftPlace| p.mate.as_ref().is_some_and(|m| p.place < *m);
    let own = move |p: &&DriftPlace| p.place == place || p.mate.as_deref() == Some(place);
    places
        .iter()
        .filter(first)
        .filter(move |p| !own(p))
        .filter_map(move |a| {
            let b = places.iter().find(|p| Some(&p.place) == a.mate.as_ref())?;
            Some(pair_trend(&pairs(a, b, rests))?.0)
        })
}

fn alone(place: &DriftPlace, rests: &[Rest]) -> Option<ZeroDrift> {
    let own = own(place, rests);
    let levels: Vec<Level> = own.iter().filter_map(|r| level(r, place, None)).collect();
    let (across, per_mm) = trend(&levels)?;
    let within = creep(own.iter().filter_map(|rest| {
        let level = |p: &&RestPoint| Level {
            day: p.t_s / 86_400.0,
            kpa: p.kpa_abs - per_mm * p.mm,
            mm: p.mm,
        };
        change(&settled(rest, place).iter().map(level).collect::<Vec<_>>())
    }))?;
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

/// The difference of a pair does not know loads that both carry, nor what both
/// do alike at rest. That it creeps within rests as it moves from day to day
/// speaks for a sensor and against a load; which of the two drifts, the size of
/// the shared change tells: the smaller one is more likely.
fn of_pair(a: &DriftPlace, b: &DriftPlace, rests: &[Rest]) -> Option<ZeroDrift> {
    let pairs = pairs(a, b, rests);
    let (difference, per_mm) = pair_trend(&pairs)?;
    let days = pairs.last()?.level.0.day - pairs.first()?.level.0.day;
    if !sure(&difference, days) {
        return None;
    }
    let across = |pick: &dyn Fn(&Pair) -> Level| {
        trend(&pairs.iter().map(pick).collect::<Vec<_>>()).map(|t| t.0.value)
    };
    let (across_a, across_b) = (across(&|p| p.level.0)?, across(&|p| p.level.1)?);
    let within =
        creep(pairs.iter().filter_map(|p| p.creep(&per_mm)))?.with_known_error(CREEP_KPA_PER_DAY);
    let s = difference.value;
    let away = |from: f64| ((within.value - from) / within.se).powi(2);
    let cost = [
        away(s) + (across_b / SHARED_KPA_PER_DAY).powi(2),
        away(s) + (across_a / SHARED_KPA_PER_DAY).powi(2),
        away(0.0) + (s / ONE_SIDED_KPA_PER_DAY).powi(2),
    ];
    let least = cost.iter().copied().fold(f64::INFINITY, f64::min);
    let likelihood = cost.map(|c| (-0.5 * (c - least)).exp());
    let best = usize::from(cost[1] < cost[0]);
    let probability = likelihood[best] / likelihood.iter().sum::<f64>();
    let (place, sign) = [(a, 1.0), (b, -1.0)][best];
    (probability > LEAST_PROBABILITY).then(|| ZeroDrift {
        place: place.place.clone(),
        kpa_per_day: difference.scaled(sign),
        within_kpa_per_day: within.scaled(sign),
        days,
        rests: pairs.len(),
        probability,
    })
}

/// Smallest drift of a sensor over the whole log that would have been named, kPa:
/// it must be sure, and fast enough to be told from a load and from the other
/// sensor of its axle. `None` where no other corner of the axle is watched at
/// known heights, or for too few rests.
#[must_use]
pub fn drift_seen_from_kpa(place: &str, places: &[DriftPlace], rests: &[Rest]) -> Option<f64> {
    let a = places.iter().find(|p| p.place == place)?;
    let b = places.iter().find(|p| Some(&p.place) == a.mate.as_ref())?;
    let pairs = pairs(a, b, rests);
    let (difference, _) = pair_trend(&pairs)?;
    let days = pairs.last()?.level.0.day - pairs.first()?.level.0.day;
    let sure = (LEAST_KPA / days).max(LEAST_T * difference.se) + 1.645 * difference.se;
    // Where nothing drifts the other axle's difference scatters about zero.
    let warp = other_axles(place, places, rests)
        .map(|d| 2.0 * 1.645 * d.se / WARP_SHARE)
        .fold(0.0, f64::max);
    Some(days * sure.max(NAMED_FROM_KPA_PER_DAY).max(warp))
}

fn pairs(a: &DriftPlace, b: &DriftPlace, rests: &[Rest]) -> Vec<Pair> {
    let (own_a, own_b) = (own(a, rests), own(b, rests));
    own_a
        .iter()
        .filter_map(|x| own_b.iter().find_map(|y| Pair::of((x, a), (y, b))))
        .collect()
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

/// Time from the later beginning to the earlier end, s; below zero where two rests
/// lie apart.
fn shared_s(a: &Rest, b: &Rest) -> f64 {
    let bounds = |r: &Rest| Some((r.points.first()?.t_s, r.points.last()?.t_s));
    match (bounds(a), bounds(b)) {
        (Some(a), Some(b)) => a.1.min(b.1) - a.0.max(b.0),
        _ => f64::NEG_INFINITY,
    }
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

/// Change of the difference per day, and its dependence on mean height and twist.
fn pair_trend(pairs: &[Pair]) -> Option<(Estimate, Vec<f64>)> {
    if pairs.len() < FEWEST {
        return None;
    }
    let column = |f: &dyn Fn(&(Level, Level)) -> f64| -> Vec<f64> {
        pairs.iter().map(|p| f(&p.level)).collect()
    };
    let days = centred(&column(&|p| p.0.day));
    let mean_mm = centred(&column(&|p| f64::midpoint(p.0.mm, p.1.mm)));
    let twist_mm = centred(&column(&|p| p.0.mm - p.1.mm));
    let y = column(&|p| p.0.kpa - p.1.kpa);
    let (_, per_mm) = slope(&days, &[&mean_mm, &twist_mm], &y)?;
    // A drift may begin at any time: the last third against the first.
    let moved = between_thirds(&ComparedMoves {
        values: &y,
        weights: &vec![1.0; y.len()],
        covariates: &[mean_mm, twist_mm],
        t_ms: &pairs
            .iter()
            .map(|p| (p.level.0.day * 86_400_000.0) as i64)
            .collect::<Vec<_>>(),
    })?;
    let third = days.len() / 3;
    let apart = mean(&days[days.len() - third..])? - mean(&days[..third])?;
    let moved = moved.last_less_first.with_known_error(ALIKE_KPA);
    (apart > 0.0).then(|| (moved.scaled(1.0 / apart), per_mm))
}

/// Slope of `y` over `x` beside other columns, and the others' coefficients.
fn slope(x: &[f64], others: &[&Vec<f64>], y: &[f64]) -> Option<(Estimate, Vec<f64>)> {
    let mut terms = vec![vec![1.0; y.len()], x.to_vec()];
    // A column that hardly moves says nothing and takes no part.
    let moves: Vec<bool> = others
        .iter()
        .map(|c| c.iter().any(|v| v.abs() > 1.0))
        .collect();
    for (column, _) in others.iter().zip(&moves).filter(|c| *c.1) {
        terms.push((*column).clone());
    }
    let fit = regress(&terms, y, &vec![1.0; y.len()])?;
    let estimate = Estimate {
        value: fit.values[1],
        se: fit.standard_errors[1],
        degrees_of_freedom: fit.degrees_of_freedom,
    };
    let mut used = fit.values[2..].iter();
    let of = |moves: &bool| if *moves { used.next().copied() } else { None };
    Some((
        estimate,
        moves.iter().map(of).map(|v| v.unwrap_or(0.0)).collect(),
    ))
}

fn centred(values: &[f64]) -> Vec<f64> {
    let middle = mean(values).unwrap_or(0.0);
    values.iter().map(|v| v - middle).collect()
}

/// Change of pressure within rests, kPa a day: the sum of all changes over the
/// sum of all times; the error from how the changes scatter.
fn creep(changes: impl Iterator<Item = (f64, f64)>) -> Option<Estimate> {
    let (kpa, days): (Vec<f64>, Vec<f64>) = changes.unzip();
    let n = kpa.len();
    let total: f64 = days.iter().sum();
    if n < 4 || total <= 0.0 {
        return None;
    }
    let sd = super::super::stats::sd(&kpa)?;
    Some(Estimate {
        value: kpa.iter().sum::<f64>() / total,
        se: (sd * (n as f64).sqrt() / total).max(1e-3),
        degrees_of_freedom: (n - 1) as f64,
    })
}

/// Change from the first to the last tenth, and the days between them.
fn change(points: &[Level]) -> Option<(f64, f64)> {
    let (first, last) = (points.first()?.day, points.last()?.day);
    let days = last - first;
    if days * 86_400.0 < CREEP_S {
        return None;
    }
    let part = |from: f64, to: f64| {
        let inside = |l: &&Level| (from..=to).contains(&((l.day - first) / days));
        mean(
            &points
                .iter()
                .filter(inside)
                .map(|l| l.kpa)
                .collect::<Vec<_>>(),
        )
    };
    Some((part(0.9, 1.0)? - part(0.0, 0.1)?, 0.9 * days))
}

/// Two rests of the corners of an axle, over the time they share.
struct Pair {
    level: (Level, Level),
    /// Difference of the pressures at the same time; `mm` holds the difference
    /// of the heights.
    readings: Vec<(Level, f64)>,
}

impl Pair {
    fn of(a: (&Rest, &DriftPlace), b: (&Rest, &DriftPlace)) -> Option<Self> {
        // Asked first: each rest of one corner is held against many of the other.
        if shared_s(a.0, b.0) < SHORTEST_S - SETTLE_S {
            return None;
        }
        let level = (level(a.0, a.1, Some(b.0))?, level(b.0, b.1, Some(a.0))?);
        let other = settled(b.0, b.1);
        let readings = settled(a.0, a.1)
            .into_iter()
            .filter_map(|p| {
                let i = other.partition_point(|q| q.t_s < p.t_s - 15.0);
                let q = other.get(i).filter(|q| q.t_s < p.t_s + 15.0)?;
                let difference = Level {
                    day: p.t_s / 86_400.0,
                    kpa: p.kpa_abs - q.kpa_abs,
                    mm: p.mm - q.mm,
                };
                Some((difference, f64::midpoint(p.mm, q.mm)))
            })
            .collect();
        Some(Pair { level, readings })
    }

    /// Change of the difference at the same heights, kPa, and the days it took.
    fn creep(&self, per_mm: &[f64]) -> Option<(f64, f64)> {
        let (by_mean, by_twist) = (per_mm[0], per_mm[1]);
        let level = |(l, mean_mm): &(Level, f64)| Level {
            kpa: l.kpa - by_mean * mean_mm - by_twist * l.mm,
            ..*l
        };
        change(&self.readings.iter().map(level).collect::<Vec<_>>())
    }
}

#[cfg(test)]
mod tests;
