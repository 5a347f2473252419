//! How often a 95 % interval holds the truth.

use crate::path::{Judged, true_loss_l};
use seep_report::analysis::leak::{LeakFit, TemperatureUse};
use seep_sample_logs::truth::Truth;
use std::ops::AddAssign;

/// Intervals looked at, and those that held the truth.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Tally {
    /// Intervals.
    pub all: u32,
    /// That held the truth.
    pub held: u32,
    /// Truth above the interval.
    pub above: u32,
}

impl Tally {
    fn count(&mut self, interval: (f64, f64), truth: f64) {
        self.all += 1;
        self.held += u32::from(interval.0 <= truth && truth <= interval.1);
        self.above += u32::from(truth > interval.1);
    }

    /// Percent that held the truth.
    pub(crate) fn percent(&self) -> f64 {
        100.0 * f64::from(self.held) / f64::from(self.all.max(1))
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
    /// Single rests, with everything recorded that the interval rests on.
    pub rests: Tally,
    /// The same of the tank.
    pub tank: Tally,
    /// The same of circuits.
    pub circuits: Tally,
    /// The same where a leak was open.
    pub leaking: Tally,
    /// The same over a power-off gap.
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

/// True mean loss over a fitted rest, ANR L/s.
pub(crate) fn true_rate(fit: &LeakFit, judged: &Judged, truth: &Truth) -> f64 {
    let ms = |t_s: f64| (t_s * 1000.0) as i64 - judged.shift_ms;
    let seconds = fit.t_s.1 - fit.t_s.0;
    true_loss_l(truth, &fit.place, ms(fit.t_s.0), ms(fit.t_s.1)) / seconds
}

/// A leak above this is open, ANR L/s: far above the seepage of a sound circuit.
const OPEN_L_S: f64 = 0.1 / 60_000.0;

/// Coverage over one car.
pub(crate) fn coverage(judged: &Judged, truth: &Truth) -> Coverage {
    let mut out = Coverage::default();
    for fit in &judged.judgement.fits {
        let rate = true_rate(fit, judged, truth);
        let (low, high) = fit.loss_l_per_s.interval_95();
        if fit.lower_bound {
            out.lower_bounds.count((low, f64::INFINITY), rate);
            continue;
        }
        let count = |tally: &mut Tally| tally.count((low, high), rate);
        count(&mut out.rests);
        count(if fit.place == "tank" {
            &mut out.tank
        } else {
            &mut out.circuits
        });
        if rate.abs() > OPEN_L_S {
            count(&mut out.leaking);
        }
        if fit.bridged {
            count(&mut out.bridged);
        }
        if fit.temperature == TemperatureUse::Assumed {
            count(&mut out.no_temperature);
        }
    }
    for leak in judged.judgement.leaks.iter().filter(|l| !l.lower_bound) {
        let own = judged
            .judgement
            .fits
            .iter()
            .filter(|f| f.place == leak.place);
        let rates: Vec<f64> = own.map(|f| true_rate(f, judged, truth)).collect();
        let mean = rates.iter().sum::<f64>() / rates.len().max(1) as f64;
        out.pooled.count(leak.loss_l_per_s.interval_95(), mean);
    }
    out
}
