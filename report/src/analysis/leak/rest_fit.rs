//! The leak of one volume over one rest.

use super::super::air::Vessel;
use super::super::segment::{LastMove, Rest};
use super::super::volume_error;
use super::model::{self, CONDUCTANCE};
use super::{Estimate, Prepared, TemperatureUse, plain_decay, systematic};
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
    /// Change of that loss by one standard deviation of each independent error
    /// of the rig's volume and of the gain of the temperature, ANR L/s; the same
    /// errors in the same order for every rest of a place, and already in the
    /// loss's own error.
    pub shared_errors_l_per_s: Vec<f64>,
    /// Change of that loss by one standard deviation of what recurs, ANR L/s: of
    /// the cosine and of the sine of an unrecorded daily swing of temperature
    /// (nothing where it is recorded), and of how air settles after a move. The
    /// same in every rest of the place, and in the loss's own error.
    pub recurring_l_per_s: [f64; 3],
    /// Law that fits best.
    pub law: LeakLaw,
    /// True when the other law fits as well.
    pub law_undecided: bool,
    /// Sonic conductance (ISO 6358) of the hole that would lose as much at the
    /// mean conditions, L/(s·bar) ANR, whatever the law: for a seep a picture
    /// of its size, not a property of it.
    pub equivalent_conductance: Estimate,
    /// The same loss as a fall of pressure at constant volume, kPa/h.
    pub kpa_per_h: Estimate,
    /// The same loss as a fall of height at constant pressure, mm/h.
    pub mm_per_h: Option<Estimate>,
    /// Share of the air that is lost per second, 1/s: k of the decay
    /// `n = n₀·exp(−k·t)` of the amount.
    pub per_s: Estimate,
    /// k of one exponential `n₀·exp(−k·t)` through the amounts as they are,
    /// nothing taken off, 1/s. A description of the readings that anyone can
    /// check; `per_s` is what the leak takes.
    pub plain_decay_per_s: Option<Estimate>,
    /// Time constant of the largest settling seen, s.
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

impl LeakFit {
    /// Change of the loss by one standard deviation of each error that is the
    /// same in every rest, ANR L/s: of volume and gain, then of what recurs.
    pub(crate) fn all_shared_errors(&self) -> impl Iterator<Item = f64> + '_ {
        let recurring = self.recurring_l_per_s.iter();
        self.shared_errors_l_per_s.iter().chain(recurring).copied()
    }

    /// The loss without the part of its error that is the same in every rest.
    #[must_use]
    pub fn without_shared_errors(&self) -> Estimate {
        let shared: f64 = self.all_shared_errors().map(|e| e * e).sum();
        let own = self.loss_l_per_s.se.powi(2) - shared;
        Estimate {
            // Rounding may leave nothing of a tiny rest of an error.
            se: own.max(1e-6 * shared).sqrt(),
            ..self.loss_l_per_s
        }
    }
}

/// Fit one rest. `None` when there is too little data.
///
/// Model: `n(t) = n₀ − C·∫ψ(p,T)dt + settling + temperature + wander`, linear
/// in all unknowns, on the amount `n = pV(h)/(RT)`. With constant volume and a
/// choked hole this is the exponential decay; off the stops, where pressure
/// stays and height falls, it is the straight loss that pressure alone would
/// not show. What is not the leak carries a prior of its size.
#[must_use]
pub fn fit_rest(
    rest: &Rest,
    data: &Prepared,
    vessel: &Vessel,
    ambient_kpa_abs: f64,
) -> Option<LeakFit> {
    let weights = weights(data);
    let count_sd = systematic::count_sd_anr_l(data, vessel, &rest.resolution);
    let model = model::choose(rest, data, ambient_kpa_abs, &weights, count_sd * count_sd)?;
    let fit = &model.regression;
    let mean_shape = weighted_mean(&model.shape, &weights);
    let noise = Estimate {
        value: fit.values[CONDUCTANCE] * mean_shape,
        se: fit.standard_errors[CONDUCTANCE] * mean_shape,
        degrees_of_freedom: fit.degrees_of_freedom,
    };
    let mut shared_errors: Vec<f64> = volume_error::columns(vessel, &data.states())
        .iter()
        .map(|column| fit.change(CONDUCTANCE, column) * mean_shape)
        .collect();
    let steady = systematic::rate_se_l_per_s(data, count_sd)?;
    let volume = shared_errors.iter().map(|e| e * e).sum::<f64>().sqrt();
    let [cosine, sine] = systematic::daily_wave_anr_l(data)
        .map(|column| fit.change(CONDUCTANCE, &column) * mean_shape);
    let daily = cosine.hypot(sine);
    let loss = noise.with_known_error(volume.hypot(steady).hypot(daily));
    // Already in the noise of this rest; told apart, as they are the same in all.
    let gain = fit.change(CONDUCTANCE, &model.gain_anr_l) * mean_shape;
    let settling = model.settling_off * mean_shape;
    shared_errors.push(gain);
    let last = data.t_s.len() - 1;
    let mean_kelvin = weighted_mean(&data.kelvin, &weights);
    let mean_kpa = weighted_mean(&data.kpa_abs, &weights);
    let mean_volume = weighted_mean(&data.volume_l, &weights);
    let hole = weighted_mean(
        &model::shape(data, LeakLaw::Orifice, ambient_kpa_abs),
        &weights,
    );
    let kelvins = || data.kelvin.iter().copied();
    Some(LeakFit {
        place: rest.place.clone(),
        t_s: (data.t_s[0], data.t_s[last]),
        loss_l_per_s: loss,
        shared_errors_l_per_s: shared_errors,
        recurring_l_per_s: [cosine, sine, settling],
        law: model.law,
        law_undecided: model.undecided,
        // 1 L/(s·kPa) is 100 L/(s·bar).
        equivalent_conductance: loss.scaled(100.0 / hole),
        kpa_per_h: loss.scaled(3600.0 / amount_anr_l(1.0, mean_volume, mean_kelvin)),
        mm_per_h: mm_per_h(data, vessel, &loss, mean_kpa, mean_kelvin),
        per_s: loss.scaled(1.0 / weighted_mean(&data.amount_anr_l, &weights)),
        plain_decay_per_s: plain_decay::per_s(data, &weights, steady),
        settling_s: model.settling_s,
        end_state: (data.kpa_abs[last], data.kelvin[last], data.mm[last]),
        mean_kpa_abs: mean_kpa,
        readings: (data.t_s.len(), fit.lag1),
        bridged: !rest.bridges.is_empty(),
        after: rest.after,
        temperature: data.temperature,
        kelvin_range: kelvins().fold(f64::MIN, f64::max) - kelvins().fold(f64::MAX, f64::min),
        lower_bound: data.height_missing,
    })
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
