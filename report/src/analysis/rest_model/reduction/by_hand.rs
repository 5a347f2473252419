//! Readings by hand as rests of their own: a tape measure in the evening and in the
//! morning is a height channel with two points.
//!
//! A corner without a height sensor sinks off its stops at a steady pressure, and its
//! recorded rests bound its loss from below only. Two tape readings within one such rest
//! give what is missing, `ΔV = V(h₂) − V(h₁)`, so they become a second volume of the
//! same place with the readings' own errors, judged on its own odds.

use super::super::input::{Car, ModelRest, Volume};
use super::open::ReducedRest;
use super::surroundings::{Surroundings, Walks};
use crate::analysis::stats::median;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Readings of one place this close belong together, s: pressure and height are read one
/// after the other.
const TOGETHER_S: f64 = 900.0;

/// A reading noted to the minute may lie this far outside a rest, s.
const NOTED_TO_S: f64 = 60.0;

/// What a person read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadByHand {
    /// Height, from any fixed point: only differences count.
    HeightMm,
    /// Pressure against the outside.
    GaugeKpa,
}

/// One reading by hand.
///
/// **Units**: s of log time; mm or kPa gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct HandObservation {
    /// Circuit, or `tank`.
    pub place: String,
    /// When it was read.
    pub t_s: f64,
    /// What was read.
    pub kind: ReadByHand,
    /// Value.
    pub value: f64,
    /// Standard error.
    pub error: f64,
}

/// What became of readings by hand.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct HandUse {
    /// Readings behind a rest of the model, by place.
    pub used: BTreeMap<String, usize>,
    /// Readings that no rest of at least twenty minutes holds together with a second
    /// one, or at a place where they tell nothing, by place.
    pub unused: BTreeMap<String, usize>,
}

/// Readings taken together.
#[derive(Debug, Clone, Copy, Default)]
struct Point {
    t_s: f64,
    /// Value and standard error.
    mm: Option<(f64, f64)>,
    kpa: Option<(f64, f64)>,
}

/// Adds a volume with rests for each place that was read twice within a rest.
pub(super) fn add_by_hand(
    car: &mut Car,
    around: &Surroundings<'_>,
    observations: &[HandObservation],
) -> HandUse {
    let mut used = HandUse::default();
    for o in observations {
        *used.unused.entry(o.place.clone()).or_default() += 1;
    }
    for v in 0..around.reduced.plan.volumes.len() {
        let name = car.volumes[v].name.clone();
        let points = points(observations, &name);
        let (rests, readings) = rests_by_hand(car, around, v, &points);
        if rests.is_empty() {
            continue;
        }
        used.used.insert(name.clone(), readings);
        if let Some(left) = used.unused.get_mut(&name) {
            *left = left.saturating_sub(readings);
        }
        add_volume(car, v, rests);
    }
    used.unused.retain(|_, n| *n > 0);
    used
}

fn add_volume(car: &mut Car, of: usize, mut rests: Vec<ModelRest>) {
    let volume = Volume {
        by_hand: true,
        has_height: !car.volumes[of].is_tank,
        // What passes between volumes is judged by the sensors, which see it all the time.
        axle: None,
        fed_by_tank: false,
        ..car.volumes[of].clone()
    };
    car.volumes.push(volume);
    for rest in &mut rests {
        rest.volume = car.volumes.len() - 1;
    }
    car.rests.extend(rests);
    let volumes = car.volumes.len();
    for rest in &mut car.rests {
        rest.others_kpa_abs.resize(volumes, None);
    }
}

/// Readings of a place, those taken together as one.
fn points(observations: &[HandObservation], place: &str) -> Vec<Point> {
    let mut own: Vec<&HandObservation> = observations.iter().filter(|o| o.place == place).collect();
    own.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    let mut points: Vec<Point> = Vec::new();
    for o in own {
        let joins = points.last().is_some_and(|p| {
            let taken = match o.kind {
                ReadByHand::HeightMm => p.mm.is_some(),
                ReadByHand::GaugeKpa => p.kpa.is_some(),
            };
            !taken && o.t_s - p.t_s <= TOGETHER_S
        });
        if !joins {
            points.push(Point {
                t_s: o.t_s,
                ..Point::default()
            });
        }
        if let Some(point) = points.last_mut() {
            let value = Some((o.value, o.error));
            match o.kind {
                ReadByHand::HeightMm => {
                    point.mm = value;
                    point.t_s = o.t_s;
                }
                ReadByHand::GaugeKpa => point.kpa = value,
            }
        }
    }
    points
}

/// Rests of one volume that hold at least two points, and the readings behind them.
fn rests_by_hand(
    car: &Car,
    around: &Surroundings<'_>,
    v: usize,
    points: &[Point],
) -> (Vec<ModelRest>, usize) {
    let volume = &car.volumes[v];
    let needs_height = !volume.is_tank;
    let tells = |p: &&Point| {
        if needs_height {
            p.mm.is_some()
        } else {
            p.kpa.is_some()
        }
    };
    let follows = around.reduced.plan.volumes[v].model.needs_height();
    if needs_height && !follows {
        return (Vec::new(), 0);
    }
    let within = |rest: &ReducedRest| -> Vec<Point> {
        let span = (rest.span_s.0 - NOTED_TO_S)..=(rest.span_s.1 + NOTED_TO_S);
        let own = points.iter().filter(tells);
        own.filter(|p| span.contains(&p.t_s)).copied().collect()
    };
    let held: Vec<(&ReducedRest, Vec<Point>)> = around.reduced.rests[v]
        .iter()
        .map(|r| (r, within(r)))
        .filter(|(_, points)| points.len() >= 2)
        .collect();
    let firsts: Vec<f64> = held
        .iter()
        .filter_map(|(_, points)| Some(points.first()?.mm?.0))
        .collect();
    // The tape counts from the ground or the hub, the rig from ride height: the usual
    // first reading stands for ride height.
    let zero_mm = median(&firsts).unwrap_or(0.0);
    let mut walks = Walks::new(around, v);
    let mut rests = Vec::new();
    let mut readings = 0;
    for (rest, points) in held {
        let reduced = at_points(rest, &points, zero_mm);
        if let Some(mut made) = around.rest(v, &reduced, &mut walks)
            && made.t_s.len() >= 2
        {
            set_errors(&mut made, &points);
            readings += points.len();
            rests.push(made);
        }
    }
    (rests, readings)
}

/// A rest seen at the times of the readings.
fn at_points(rest: &ReducedRest, points: &[Point], zero_mm: f64) -> ReducedRest {
    let n = points.len();
    let inside = |p: &Point| p.t_s.clamp(rest.span_s.0, rest.span_s.1);
    let recorded = |t: f64| on_line(&rest.t_s, &rest.kpa, t);
    let t_s: Vec<f64> = points.iter().map(inside).collect();
    let kpa = points.iter().zip(&t_s).map(|(p, t)| match (p.mm, p.kpa) {
        // Beside a height the sensor's pressure is the finer one.
        (None, Some((kpa, _))) => kpa,
        _ => recorded(*t),
    });
    ReducedRest {
        before: rest.before,
        span_s: (t_s[0], t_s[n - 1]),
        kpa: kpa.collect(),
        readings: vec![1.0; n],
        mm: points
            .iter()
            .filter_map(|p| Some(p.mm?.0 - zero_mm))
            .collect(),
        mm_readings: vec![1.0; n],
        kpa_sd: rest.kpa_sd,
        mm_sd: None,
        longest_silence_s: rest.longest_silence_s,
        // Those of the sensors count with the rest they belong to.
        spikes: 0,
        t_s,
    }
}

/// Puts the stated errors of the readings in place of those of a sensor.
///
/// Equation: variance of `ln(p V)` is `(σ_p/p)² + (σ_h·V'/V)²`.
fn set_errors(rest: &mut ModelRest, points: &[Point]) {
    for (i, point) in points.iter().take(rest.t_s.len()).enumerate() {
        let of_kpa = match (point.mm, point.kpa) {
            (None, Some((_, error))) => error,
            _ => rest.reading_sd_kpa,
        };
        let share = rest
            .slope_l_per_mm
            .get(i)
            .map_or(0.0, |s| s / rest.volume_l[i]);
        let of_mm = point.mm.map_or(0.0, |(_, error)| error * share);
        rest.ln_variance[i] = (of_kpa / rest.kpa_abs[i]).powi(2) + of_mm * of_mm;
        // The error says all about the scale that was read.
        rest.ln_count[i] = 0.0;
    }
    rest.noise_per_count = 1.0;
}

/// Value at a time on the line between means; the ends hold.
fn on_line(t_s: &[f64], values: &[f64], at: f64) -> f64 {
    let after = t_s.partition_point(|t| *t <= at);
    match (after.checked_sub(1), t_s.get(after)) {
        (None, _) => values[0],
        (Some(a), None) => values[a],
        (Some(a), Some(next)) => {
            let share = (at - t_s[a]) / (next - t_s[a]);
            values[a] + share * (values[after] - values[a])
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tape(t_s: f64, value: f64) -> HandObservation {
        HandObservation {
            place: "front_left".into(),
            t_s,
            kind: ReadByHand::HeightMm,
            value,
            error: 3.0,
        }
    }

    #[test]
    fn readings_within_a_quarter_of_an_hour_are_one_point() {
        let gauge = |t_s: f64| HandObservation {
            kind: ReadByHand::GaugeKpa,
            value: 600.0,
            error: 5.0,
            ..tape(t_s, 0.0)
        };
        let all = [
            tape(40_000.0, 380.0),
            gauge(100.0),
            tape(700.0, 410.0),
            gauge(40_000.0 + 1_000.0),
        ];
        let points = points(&all, "front_left");
        let told: Vec<(f64, bool, bool)> = points
            .iter()
            .map(|p| (p.t_s, p.mm.is_some(), p.kpa.is_some()))
            .collect();
        assert_eq!(
            told,
            [
                (700.0, true, true),
                (40_000.0, true, false),
                (41_000.0, false, true)
            ]
        );
        assert!(super::points(&all, "front_right").is_empty());
    }

    #[test]
    fn the_line_between_means_holds_its_ends() {
        let (t, y) = ([10.0, 20.0], [1.0, 3.0]);
        let at = |x: f64| on_line(&t, &y, x);
        assert_eq!((at(0.0), at(15.0), at(30.0)), (1.0, 2.0, 3.0));
    }
}
