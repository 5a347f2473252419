//! What the columns that are made of the pressure take of a leak.
//!
//! A corner that friction or a stiff body holds up loses pressure, not height. Stretch and
//! relaxation of its bag are read from that same pressure: with it they move, and what the
//! log taught of them, errors of the temperature among it, is then set against the leak.

use super::columns::{Family, Owner};
use super::input::CREEP_LAGS_S;
use super::model::Model;
use super::parameters::Parameter;
use super::posterior::Posterior;

/// Length of a night, s.
const NIGHT_S: f64 = 43_200.0;
/// No more than half of a leak is thought to be taken.
const LEAST_LEFT: f64 = 0.5;

impl Model<'_> {
    /// Share of a leak that its estimate shows where the pressure alone falls, at most 1.
    ///
    /// Equation: a loss of x (in ln) moves the column of the stretch by `x·p` (bar), of the
    /// relaxation behind the lag τ by `x·(p/p_gauge)·w`, `w = 1 − (τ/T)(1 − e^(−T/τ))` the
    /// answer to a ramp of a night; with their coefficients `m` the share `1 + Σ m·(moved)/x`
    /// is left.
    pub(super) fn left_of_leak(&self, volume: usize, posterior: &Posterior) -> f64 {
        if self.plan.car.volumes[volume].is_tank {
            return 1.0; // a shell of steel
        }
        let bar_abs = self.plan.reference(volume).bar_abs;
        let bar_gauge = (bar_abs - 1.0).max(0.5);
        let moved = |parameter: &Parameter| {
            let Parameter::Error(key) = parameter else {
                return 0.0;
            };
            let own = key.owner == Owner::Volume(volume);
            match key.family {
                Family::Beta if own => bar_abs,
                Family::Visco if own || key.owner == Owner::Bags => {
                    bar_abs / bar_gauge * answer_to_a_ramp(CREEP_LAGS_S[key.part])
                }
                _ => 0.0,
            }
        };
        let all = self.parameters.all.iter().zip(&posterior.place);
        let taken = all.filter_map(|(p, place)| Some(moved(p) * posterior.mean[(*place)?]));
        (1.0 + taken.sum::<f64>()).clamp(LEAST_LEFT, 1.0)
    }
}

fn answer_to_a_ramp(tau_s: f64) -> f64 {
    let nights = NIGHT_S / tau_s;
    1.0 - (1.0 - (-nights).exp()) / nights
}

#[cfg(test)]
mod tests {
    use super::answer_to_a_ramp;

    #[test]
    fn a_short_lag_follows_a_ramp_and_a_long_one_lags_behind() {
        // ∫₀^T (1 − e^(−t/τ)) dt / T for T/τ of 108 and 1.08, e^(−1.08) = 0.339596.
        assert!((answer_to_a_ramp(400.0) - (1.0 - 1.0 / 108.0)).abs() < 1e-9);
        assert!((answer_to_a_ramp(40_000.0) - 0.388_514).abs() < 1e-6);
    }
}
