//! Columns of one rest: what each cause would add to `ln(p V / T)`, per unit.
//!
//! One file per family. A family gives *persistent* columns (one coefficient per car)
//! and the share by which a single rest may differ from it (*own*). Columns are in ln
//! units; temperature errors are divided by the temperature.

mod day;
mod leaks;
mod moves;
mod rubber;
mod shared;
mod silence;
mod soak;
mod thermometer;

pub use shared::WEATHER_K;

use super::input::{ModelRest, Thermometer, Volume};
use super::plan::Plan;

/// Family of persistent errors.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Family {
    Gain,
    Lag,
    Other,
    Soak,
    Day,
    Sun,
    Settle,
    Creep,
    Visco,
    Beta,
    Common,
    Gap,
}

impl Family {
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Gain => "gain",
            Self::Lag => "lag",
            Self::Other => "other",
            Self::Soak => "soak",
            Self::Day => "day",
            Self::Sun => "sun",
            Self::Settle => "settle",
            Self::Creep => "creep",
            Self::Visco => "visco",
            Self::Beta => "beta",
            Self::Common => "common",
            Self::Gap => "gap",
        }
    }

    pub(super) fn cause(self) -> Cause {
        match self {
            Self::Gain | Self::Lag | Self::Other | Self::Soak | Self::Day | Self::Sun => {
                Cause::Heat
            }
            Self::Gap => Cause::Heat,
            Self::Settle => Cause::Settling,
            Self::Creep | Self::Visco | Self::Beta | Self::Common => Cause::Creep,
        }
    }
}

/// Whose error it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Owner {
    Volume(usize),
    /// All corners together.
    Bags,
    /// All volumes together.
    All,
}

/// Name of one persistent error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct ErrorKey {
    pub(super) family: Family,
    /// Number within the family: time constant, harmonic, sign, other thermometer.
    pub(super) part: usize,
    pub(super) owner: Owner,
}

/// Cause of a change, as the report lists them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cause {
    Leak,
    Heat,
    Creep,
    Settling,
    Weather,
}

/// What a column's coefficient is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Target {
    /// Conductance of a hypothesis, cm³/min ANR at the usual pressure.
    Hypothesis(usize),
    /// Persistent error with its prior.
    Error { key: ErrorKey, mean: f64, sd: f64 },
}

/// Name of an error that the volumes of one park share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum SharedKey {
    /// Wave of the error of a thermometer, by the first volume that uses it.
    Temperature { thermometer: usize, wave: usize },
    /// Wave of the outside pressure.
    Outside { wave: usize },
}

/// Kind of thermometer, on which most priors depend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ThermometerKind {
    Own,
    Far,
    None,
}

impl ThermometerKind {
    pub(super) fn of(volume: &Volume) -> Self {
        match volume.thermometer {
            Thermometer::Own => Self::Own,
            Thermometer::Far(_) => Self::Far,
            Thermometer::None => Self::None,
        }
    }

    /// Returns the first, second or third value for an own, another or no
    /// thermometer.
    pub(super) fn pick<T>(self, own: T, far: T, none: T) -> T {
        match self {
            Self::Own => own,
            Self::Far => far,
            Self::None => none,
        }
    }
}

/// All columns of one rest.
pub(super) struct Columns<'a> {
    pub(super) plan: &'a Plan<'a>,
    pub(super) rest: &'a ModelRest,
    pub(super) volume: &'a Volume,
    pub(super) kind: ThermometerKind,
    /// `ln(p V / T)`, minus its mean.
    pub(super) y: Vec<f64>,
    /// Amount of air, L ANR.
    pub(super) air_l: Vec<f64>,
    /// Loss of unit conductance, L ANR/s.
    pub(super) rate: Vec<f64>,
    /// Column of the leak of this very volume.
    pub(super) leak: Vec<f64>,
    /// Laminar seep minus hole, per unit conductance.
    pub(super) seep_minus_hole: Vec<f64>,
    pub(super) persistent: Vec<(Target, Vec<f64>)>,
    /// Unit-variance deviations of this rest from the persistent errors.
    pub(super) own: Vec<(Cause, Vec<f64>)>,
    /// Unit-variance errors shared by the park.
    pub(super) shared: Vec<(SharedKey, Vec<f64>)>,
}

impl<'a> Columns<'a> {
    /// Builds every column of a rest.
    pub(super) fn new(plan: &'a Plan<'a>, rest: &'a ModelRest) -> Self {
        let volume = &plan.car.volumes[rest.volume];
        let mut columns = Self {
            plan,
            rest,
            volume,
            kind: ThermometerKind::of(volume),
            y: amount(rest),
            air_l: air_l(rest),
            rate: Vec::new(),
            leak: Vec::new(),
            seep_minus_hole: Vec::new(),
            persistent: Vec::with_capacity(64),
            own: Vec::with_capacity(32),
            shared: Vec::with_capacity(10),
        };
        columns.add_leaks();
        columns.add_thermometer();
        columns.add_soak();
        columns.add_day();
        columns.add_sun();
        columns.add_settling();
        columns.add_rubber();
        columns.add_silence();
        columns.add_shared();
        columns
    }

    pub(super) fn len(&self) -> usize {
        self.y.len()
    }

    pub(super) fn is_bag(&self) -> bool {
        !self.volume.is_tank
    }

    pub(super) fn has_height(&self) -> bool {
        !self.rest.height_mm.is_empty()
    }

    fn error(
        &mut self,
        family: Family,
        part: usize,
        owner: Owner,
        sd: f64,
        values: impl Iterator<Item = f64>,
    ) {
        let key = ErrorKey {
            family,
            part,
            owner,
        };
        let target = Target::Error { key, mean: 0.0, sd };
        self.persistent.push((target, values.collect()));
    }

    fn own(&mut self, cause: Cause, values: impl Iterator<Item = f64>) {
        self.own.push((cause, values.collect()));
    }

    /// Values in K over the temperature: ln units.
    fn per_kelvin(&self, kelvin: &[f64]) -> Vec<f64> {
        let pairs = kelvin.iter().zip(&self.rest.kelvin);
        pairs.map(|(x, t)| x / t).collect()
    }

    fn this(&self) -> Owner {
        Owner::Volume(self.rest.volume)
    }
}

fn air_l(rest: &ModelRest) -> Vec<f64> {
    (0..rest.t_s.len())
        .map(|i| rest.kpa_abs[i] / 100.0 * rest.volume_l[i] * 293.15 / rest.kelvin[i])
        .collect()
}

fn amount(rest: &ModelRest) -> Vec<f64> {
    let mut y: Vec<f64> = (0..rest.t_s.len())
        .map(|i| (rest.kpa_abs[i] * rest.volume_l[i] / rest.kelvin[i]).ln())
        .collect();
    let mean = y.iter().sum::<f64>() / y.len() as f64;
    y.iter_mut().for_each(|v| *v -= mean);
    y
}

/// `−∫ r/n dt` of a loss `r` out of an amount `n`, zero at the start.
///
/// Equation: over one step `Δt · ℓ(r₀, r₁) / ℓ(n₀, n₁)` with the logarithmic mean
/// `ℓ(a, b) = (b − a) / ln(b/a)`: exact where the loss is constant (a corner that sinks
/// under its load) and where it follows the amount (a fixed volume that empties),
/// however far apart the readings are.
///
/// **Units**: s, L, L/s. **Source**: both cases integrated in closed form.
pub(super) fn loss_integral(t_s: &[f64], air_l: &[f64], r: impl Fn(usize) -> f64) -> Vec<f64> {
    let mut sum = 0.0;
    let mut out = Vec::with_capacity(t_s.len());
    let mut before = 0.0;
    for (i, t) in t_s.iter().enumerate() {
        let now = r(i);
        if i > 0 {
            let amount = logarithmic_mean(air_l[i - 1], air_l[i]);
            sum -= (t - t_s[i - 1]) * logarithmic_mean(before, now) / amount;
        }
        out.push(sum);
        before = now;
    }
    out
}

/// Logarithmic mean; the arithmetic one where it does not exist (a value of 0).
fn logarithmic_mean(a: f64, b: f64) -> f64 {
    let ratio = b / a;
    if a > 0.0 && b > 0.0 && (ratio - 1.0).abs() > 1e-6 {
        (b - a) / ratio.ln()
    } else {
        f64::midpoint(a, b)
    }
}

/// Integral by trapezoids, zero at the start.
pub(super) fn integral(t_s: &[f64], f: impl Fn(usize) -> f64) -> Vec<f64> {
    let mut sum = 0.0;
    let mut out = Vec::with_capacity(t_s.len());
    let mut before = 0.0;
    for (i, t) in t_s.iter().enumerate() {
        let now = f(i);
        if i > 0 {
            sum += (t - t_s[i - 1]) * (now + before) / 2.0;
        }
        out.push(sum);
        before = now;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::loss_integral;

    #[test]
    fn two_readings_are_enough_for_a_night_that_empties() {
        // Fixed volume, loss in proportion to the amount: n = n₀·e^(−kt).
        let (n0, n1, k) = (30.0_f64, 6.0_f64, 1e-4_f64);
        let t = (n0 / n1).ln() / k;
        let emptied = loss_integral(&[0.0, t], &[n0, n1], |i| k * [n0, n1][i]);
        assert!((emptied[1] + (n0 / n1).ln()).abs() < 1e-12, "{emptied:?}");
        // Constant loss under a constant load: n falls on a line.
        let sunk = loss_integral(&[0.0, (n0 - n1) / 2e-3], &[n0, n1], |_| 2e-3);
        assert!((sunk[1] + (n0 / n1).ln()).abs() < 1e-12, "{sunk:?}");
        // Nothing flows any more at the end: the trapezoid.
        let ended = loss_integral(&[0.0, 10.0], &[2.0, 2.0], |i| [1e-3, 0.0][i]);
        assert!((ended[1] + 2.5e-3).abs() < 1e-15);
    }
}
