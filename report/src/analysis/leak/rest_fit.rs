//! The leak of one volume over one rest.

use super::super::air::Vessel;
use super::super::regression::{Regression, Term, regress};
use super::super::segment::{LastMove, Rest};
use super::decay::{Decay, decay};
use super::{Estimate, Prepared, TemperatureUse, systematic};
use seep_common::physics::gas::amount_anr_l;

/// Law by which air is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeakLaw {
    /// Sharp hole: flow in proportion to absolute pressure while choked.
    Orifice,
    /// Long thin path (thread, seal): flow with the difference of squares.
    Laminar,
}

/// What one rest says about a leak.
#[derive(Debug, Clone, PartialEq)]
pub struct LeakFit {
    /// Circuit, or `tank`.
    pub place: String,
    /// First and last log time used, s.
    pub t_s: (f64, f64),
    /// Loss at the mean conditions of the rest, ANR L/s (of a 1 L volume where
    /// the rig gives none). Negative: the volume gained air.
    pub loss_l_per_s: Estimate,
    /// Sonic conductance of the leak, L/(s·bar) ANR.
    pub conductance: Estimate,
    /// Law that fits best.
    pub law: LeakLaw,
    /// True when the other law fits as well.
    pub law_undecided: bool,
    /// The same loss as a fall of pressure at constant volume, kPa/h.
    pub kpa_per_h: Estimate,
    /// The same loss as a fall of height at constant pressure, mm/h.
    pub mm_per_h: Option<Estimate>,
    /// Exponential decay of the amount.
    pub decay: Option<Decay>,
    /// Time constant of the settling term that the data asked for, s.
    pub settling_s: Option<f64>,
    /// State at the end: pressure kPa absolute, temperature K, height mm.
    pub end_state: (f64, f64, f64),
    /// Mean pressure, kPa absolute.
    pub mean_kpa_abs: f64,
    /// Means fitted, and autocorrelation of their residuals.
    pub readings: (usize, f64),
    /// True when the rest bridges a power-off gap.
    pub bridged: bool,
    /// What was done before the rest.
    pub after: LastMove,
    /// How temperature entered.
    pub temperature: TemperatureUse,
    /// Temperature range over the rest, K.
    pub kelvin_range: f64,
    /// True when only a lower bound can be given: no height channel.
    pub lower_bound: bool,
}

/// Uncertainty of the temperature channel as a measure of the air's swing:
/// the air swings by (1 ± this) of what the sensor does. A prior: common
/// practice, no source.
const TEMPERATURE_GAIN_SD: f64 = 0.15;

/// The air follows the sensor with a delay of this order, s (prior sd).
const TEMPERATURE_LAG_S: f64 = 1_200.0;

/// A settling term must improve the criterion by this much to be kept.
const SETTLING_GAIN: f64 = 10.0;

/// Laws closer than this cannot be told apart.
const LAW_GAIN: f64 = 6.0;

/// Fit one rest. `None` when there is too little data.
///
/// Model: `n(t) = n₀ − C·∫ψ(p)dt + settling + temperature terms`, linear in all
/// unknowns, on the amount `n = pV(h)/(RT)`. With constant volume this is the
/// exponential decay; off the stops, where pressure stays and height falls, it
/// is the straight loss that pressure alone would not show.
#[must_use]
pub fn fit_rest(
    rest: &Rest,
    data: &Prepared,
    vessel: &Vessel,
    ambient_kpa_abs: f64,
    barometer_recorded: bool,
) -> Option<LeakFit> {
    let weights = weights(data);
    let (regression, shape, law, law_undecided, settling_s) =
        best_model(rest, data, ambient_kpa_abs, &weights)?;
    let mean_shape = weighted_mean(&shape, &weights);
    let from_noise = Estimate {
        value: regression.values[1] * mean_shape,
        se: regression.standard_errors[1] * mean_shape,
        degrees_of_freedom: regression.degrees_of_freedom,
    };
    let other = systematic::rate_se_l_per_s(data, vessel, barometer_recorded)?;
    let loss = Estimate {
        se: from_noise.se.hypot(other),
        ..from_noise
    };
    let last = data.t_s.len() - 1;
    let mean_kelvin = weighted_mean(&data.kelvin, &weights);
    let mean_kpa = weighted_mean(&data.kpa_abs, &weights);
    let mean_volume = weighted_mean(&data.volume_l, &weights);
    let kelvins = || data.kelvin.iter().copied();
    Some(LeakFit {
        place: rest.place.clone(),
        t_s: (data.t_s[0], data.t_s[last]),
        loss_l_per_s: loss,
        conductance: loss.scaled(100.0 / mean_shape),
        law,
        law_undecided,
        kpa_per_h: loss.scaled(3600.0 / amount_anr_l(1.0, mean_volume, mean_kelvin)),
        mm_per_h: mm_per_h(data, vessel, &loss, mean_kpa, mean_kelvin),
        decay: decay(data, &weights),
        settling_s,
        end_state: (data.kpa_abs[last], data.kelvin[last], data.mm[last]),
        mean_kpa_abs: mean_kpa,
        readings: (data.t_s.len(), regression.lag1),
        bridged: !rest.bridges.is_empty(),
        after: rest.after,
        temperature: data.temperature,
        kelvin_range: kelvins().fold(f64::MIN, f64::max) - kelvins().fold(f64::MAX, f64::min),
        lower_bound: data.height_missing,
    })
}

type Model = (Regression, Vec<f64>, LeakLaw, bool, Option<f64>);

fn best_model(
    rest: &Rest,
    data: &Prepared,
    ambient_kpa_abs: f64,
    weights: &[f64],
) -> Option<Model> {
    let common = temperature_terms(data);
    let solve = |law: LeakLaw, settling: Option<f64>| {
        let shape = shape(data, law, ambient_kpa_abs);
        let mut terms = vec![
            Term::free(vec![1.0; data.t_s.len()]),
            Term::free(integral(&data.t_s, &shape).iter().map(|x| -x).collect()),
        ];
        if let Some(tau) = settling {
            terms.push(Term::free(settle(&data.t_s, tau)));
        }
        terms.extend(common.iter().cloned());
        regress(&terms, &data.amount_anr_l, weights).map(|r| (r, shape))
    };
    let plain = solve(LeakLaw::Orifice, None)?;
    let mut settling = None;
    let mut best = plain;
    if settles(rest) {
        for tau in [60.0, 240.0, 900.0] {
            if let Some(candidate) = solve(LeakLaw::Orifice, Some(tau))
                && candidate.0.bic < best.0.bic - SETTLING_GAIN
            {
                best = candidate;
                settling = Some(tau);
            }
        }
    }
    match solve(LeakLaw::Laminar, settling) {
        Some(laminar) if laminar.0.bic < best.0.bic - LAW_GAIN => {
            Some((laminar.0, laminar.1, LeakLaw::Laminar, false, settling))
        }
        Some(laminar) => {
            let undecided = laminar.0.bic < best.0.bic + LAW_GAIN;
            Some((best.0, best.1, LeakLaw::Orifice, undecided, settling))
        }
        None => Some((best.0, best.1, LeakLaw::Orifice, true, settling)),
    }
}

/// Air that was just moved is warm or cold for a while.
fn settles(rest: &Rest) -> bool {
    match (rest.quiet_since_s, rest.points.first()) {
        (Some(quiet), Some(first)) => first.t_s - quiet < 3_600.0,
        _ => false,
    }
}

fn settle(t_s: &[f64], tau_s: f64) -> Vec<f64> {
    t_s.iter().map(|t| (-(t - t_s[0]) / tau_s).exp()).collect()
}

/// Driving term of the law at each reading, kPa.
fn shape(data: &Prepared, law: LeakLaw, ambient_kpa_abs: f64) -> Vec<f64> {
    data.kpa_abs
        .iter()
        .zip(&data.kelvin)
        .map(|(&p, &t)| match law {
            LeakLaw::Orifice => seep_common::physics::flow::shape_kpa(0.5, p, ambient_kpa_abs, t),
            LeakLaw::Laminar => (p * p - ambient_kpa_abs * ambient_kpa_abs) / 500.0,
        })
        .collect()
}

/// ∫shape dt by trapezoids, from the first reading.
fn integral(t_s: &[f64], shape: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let mut out = vec![0.0];
    for i in 1..t_s.len() {
        sum += (t_s[i] - t_s[i - 1]) * (shape[i] + shape[i - 1]) / 2.0;
        out.push(sum);
    }
    out
}

/// The air's temperature is the sensor's only up to a gain and a delay.
fn temperature_terms(data: &Prepared) -> Vec<Term> {
    let n = data.kelvin.len() as f64;
    let mean = data.kelvin.iter().sum::<f64>() / n;
    let amount = data.amount_anr_l.iter().sum::<f64>() / n;
    let spread = data
        .kelvin
        .iter()
        .map(|t| (t - mean).abs())
        .fold(0.0, f64::max);
    if data.temperature == TemperatureUse::Assumed || spread < 0.25 {
        return Vec::new();
    }
    let gain = data
        .kelvin
        .iter()
        .map(|t| amount * (t - mean) / mean)
        .collect();
    let lag: Vec<f64> = slopes(&data.t_s, &data.kelvin)
        .iter()
        .map(|per_s| -amount * per_s * TEMPERATURE_LAG_S / mean)
        .collect();
    let mut terms = vec![Term::small(gain, TEMPERATURE_GAIN_SD)];
    if lag.iter().any(|v| v.abs() > 0.0) {
        terms.push(Term::small(lag, 1.0));
    }
    terms
}

/// Slope over about a quarter of an hour to either side.
fn slopes(t_s: &[f64], values: &[f64]) -> Vec<f64> {
    const REACH_S: f64 = 900.0;
    (0..t_s.len())
        .map(|i| {
            let a = t_s.partition_point(|t| *t < t_s[i] - REACH_S);
            let b = t_s.partition_point(|t| *t <= t_s[i] + REACH_S) - 1;
            let (a, b) = if a == b {
                (i.saturating_sub(1), (i + 1).min(t_s.len() - 1))
            } else {
                (a, b)
            };
            let dt = t_s[b] - t_s[a];
            if dt > 0.0 {
                (values[b] - values[a]) / dt
            } else {
                0.0
            }
        })
        .collect()
}

/// Fall of height at constant pressure, where the volume follows the height.
fn mm_per_h(
    data: &Prepared,
    vessel: &Vessel,
    loss: &Estimate,
    kpa_abs: f64,
    kelvin: f64,
) -> Option<Estimate> {
    let mm = *data.mm.last()?;
    if mm.is_nan() {
        return None;
    }
    let slope = vessel.volume.slope_l_per_mm(mm).filter(|s| *s > 0.0)?;
    let anr_l_per_mm = amount_anr_l(kpa_abs, slope, kelvin);
    Some(loss.scaled(3600.0 / anr_l_per_mm))
}

/// Ticks behind each mean, scaled to mean 1.
fn weights(data: &Prepared) -> Vec<f64> {
    let mean = data.ticks.iter().sum::<f64>() / data.ticks.len() as f64;
    data.ticks.iter().map(|t| t / mean).collect()
}

fn weighted_mean(values: &[f64], weights: &[f64]) -> f64 {
    let total: f64 = weights.iter().sum();
    values.iter().zip(weights).map(|(v, w)| v * w).sum::<f64>() / total
}

#[cfg(test)]
mod tests;
