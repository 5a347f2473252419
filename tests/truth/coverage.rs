//! How often a 95 % interval holds the truth.

use crate::path::true_loss_l;
use crate::view::{RestView, View};
use seep_sample_logs::truth::Truth;
use std::ops::AddAssign;

/// Intervals looked at, and those that held the truth.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Tally {
    /// Intervals.
    pub all: u64,
    /// That held the truth.
    pub held: u64,
    /// Truth above the interval.
    pub above: u64,
}

impl Tally {
    pub(crate) fn count(&mut self, interval: (f64, f64), truth: f64) {
        self.all += 1;
        self.held += u64::from(interval.0 <= truth && truth <= interval.1);
        self.above += u64::from(truth > interval.1);
    }

    /// Percent that held the truth.
    pub(crate) fn percent(&self) -> f64 {
        100.0 * self.held as f64 / self.all.max(1) as f64
    }
}

impl AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.all += other.all;
        self.held += other.held;
        self.above += other.above;
    }
}

/// Coverage of the intervals of leak rates.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Coverage {
    /// Single rests with a two-sided interval.
    pub rests: Tally,
    /// The same of the tank.
    pub tank: Tally,
    /// The same of circuits.
    pub circuits: Tally,
    /// The same where a leak was open.
    pub leaking: Tally,
    /// The same known by their two ends.
    pub bridged: Tally,
    /// Without a temperature.
    pub no_temperature: Tally,
    /// All rests of a volume together.
    pub pooled: Tally,
    /// Lower bounds (no height): the truth is not below the lower end.
    pub lower_bounds: Tally,
}

impl AddAssign for Coverage {
    fn add_assign(&mut self, other: Self) {
        self.rests += other.rests;
        self.tank += other.tank;
        self.circuits += other.circuits;
        self.leaking += other.leaking;
        self.bridged += other.bridged;
        self.no_temperature += other.no_temperature;
        self.pooled += other.pooled;
        self.lower_bounds += other.lower_bounds;
    }
}

/// True mean loss over a rest, ANR cm³/min.
pub(crate) fn true_cm3_min(rest: &RestView, truth: &Truth) -> f64 {
    let litres = true_loss_l(truth, &rest.place, rest.from_ms, rest.to_ms);
    litres * 1000.0 / minutes(rest)
}

fn minutes(rest: &RestView) -> f64 {
    (rest.to_ms - rest.from_ms) as f64 / 60_000.0
}

/// True conductance of a volume over its rests at the usual pressure, ANR cm³/min.
pub(crate) fn true_conductance(view: &View, place: &str, truth: &Truth) -> Option<f64> {
    let own = view.rests.iter().filter(|r| r.place == place);
    let lost: f64 = own
        .clone()
        .map(|r| true_cm3_min(r, truth) * minutes(r))
        .sum();
    let weight: f64 = own.map(|r| r.flow_factor * minutes(r)).sum();
    (weight > 0.0).then(|| lost / weight)
}

/// A leak above this is open, ANR cm³/min: above the seepage of a sound circuit.
const OPEN_CM3_MIN: f64 = 0.2;

/// Coverage over one car.
pub(crate) fn coverage(view: &View, truth: &Truth) -> Coverage {
    let mut out = Coverage::default();
    for rest in &view.rests {
        let rate = true_cm3_min(rest, truth);
        if rest.lower_bound {
            out.lower_bounds
                .count((rest.interval.0, f64::INFINITY), rate);
            continue;
        }
        let count = |tally: &mut Tally| tally.count(rest.interval, rate);
        count(&mut out.rests);
        count(if rest.place == "tank" {
            &mut out.tank
        } else {
            &mut out.circuits
        });
        if rate.abs() > OPEN_CM3_MIN {
            count(&mut out.leaking);
        }
        if rest.bridged {
            count(&mut out.bridged);
        }
        if rest.without_thermometer {
            count(&mut out.no_temperature);
        }
    }
    for pooled in &view.pooled {
        let Some(truth) = true_conductance(view, &pooled.place, truth) else {
            continue;
        };
        if pooled.lower_bound {
            out.lower_bounds
                .count((pooled.interval.0, f64::INFINITY), truth);
        } else {
            out.pooled.count(pooled.interval, truth);
        }
    }
    out
}
