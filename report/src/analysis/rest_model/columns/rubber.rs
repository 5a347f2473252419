//! Slow behaviour of the rubber: creep, relaxation, stretch.

use super::{Cause, Columns, Family, Owner};

const TWELVE_HOURS_S: f64 = 43_200.0;
/// Age assumed where no levelling is known, s.
const UNKNOWN_AGE_S: f64 = 86_400.0;

/// Readings this near are one state of the bag, s.
const STEADY_WITHIN_S: f64 = 1800.0;
/// Smallest variance of a mean, ln units.
const LEAST_VARIANCE: f64 = 1e-10;

impl Columns<'_> {
    /// Creep `−log10(1 + t/60 s)` since levelling, relaxation behind the bag's own
    /// pressure (Voigt elements, 400, 5,000, 40,000 s), stretch with pressure, and
    /// the common-mode tail of all of them.
    ///
    /// **Units**: sd in ln of volume per decade, per relative pressure, per bar, per
    /// 12 h. **Source**: creep of rubber 0.1 to 1 % per decade, common practice; the
    /// rest judgement.
    pub(super) fn add_rubber(&mut self) {
        if !self.is_bag() {
            return;
        }
        self.add_stretch();
        self.add_creep();
        self.add_relaxation();
        let start = self.rest.t_s[0];
        let times = self.rest.t_s.iter();
        let tail: Vec<f64> = times.map(|t| -(t - start) / TWELVE_HOURS_S).collect();
        self.error(Family::Common, 0, Owner::Bags, 0.0025, tail.into_iter());
    }

    fn add_stretch(&mut self) {
        let p = if self.has_height() {
            self.steady_kpa_abs()
        } else {
            // Its volume is not known: what the column takes up is more than a stretch.
            self.rest.kpa_abs.clone()
        };
        let mean = p.iter().sum::<f64>() / p.len() as f64;
        let column: Vec<f64> = p.iter().map(|p| -(p - mean) / 100.0).collect();
        self.error(Family::Beta, 0, self.this(), 0.006, column.into_iter());
    }

    /// Pressure without the noise of single readings: the readings stand in the amount
    /// of air as well, so that their noise would look like a stretch of `−1/p`, many
    /// times what rubber does.
    ///
    /// Equation: weighted mean with the kernel `e^(−|Δt|/1800 s)`, weights `1/var`.
    /// **Source**: errors in a regressor that the regressand shares; kernel by judgement
    /// (a stretch follows the slow course of the pressure).
    fn steady_kpa_abs(&self) -> Vec<f64> {
        let rest = self.rest;
        let weight = |i: usize, j: usize| {
            let apart_s = (rest.t_s[i] - rest.t_s[j]).abs();
            (-apart_s / STEADY_WITHIN_S).exp() / rest.ln_variance[j].max(LEAST_VARIANCE)
        };
        let at = |i: usize| {
            let all = (0..rest.t_s.len()).map(|j| (weight(i, j), rest.kpa_abs[j]));
            let (sum, weights) = all.fold((0.0, 0.0), |(s, w), (k, p)| (s + k * p, w + k));
            sum / weights
        };
        (0..rest.t_s.len()).map(at).collect()
    }

    fn add_creep(&mut self) {
        let start = self.rest.t_s[0];
        let times = self.rest.t_s.iter();
        let column: Vec<f64> = times
            .map(|t| {
                let age = self
                    .rest
                    .levelled_s
                    .map_or(t - start + UNKNOWN_AGE_S, |l| t - l);
                -(1.0 + age.max(0.0) / 60.0).log10()
            })
            .collect();
        let column = from_start(&column, 1.0);
        self.own(Cause::Creep, column.clone().into_iter().map(|x| x * 0.0007));
        self.error(
            Family::Creep,
            0,
            Owner::Bags,
            0.004,
            column.clone().into_iter(),
        );
        self.error(Family::Creep, 0, self.this(), 0.002, column.into_iter());
    }

    fn add_relaxation(&mut self) {
        for k in 0..self.rest.creep.len() {
            let column = from_start(&self.rest.creep[k], -1.0);
            self.own(Cause::Creep, column.clone().into_iter().map(|x| x * 0.0015));
            self.error(
                Family::Visco,
                k,
                Owner::Bags,
                0.005,
                column.clone().into_iter(),
            );
            self.error(Family::Visco, k, self.this(), 0.004, column.into_iter());
        }
    }
}

fn from_start(values: &[f64], sign: f64) -> Vec<f64> {
    let start = values.first().copied().unwrap_or_default();
    values.iter().map(|x| sign * (x - start)).collect()
}

#[cfg(test)]
mod tests {
    use crate::analysis::rest_model::columns::{Columns, Family, Target};
    use crate::analysis::rest_model::input::{Car, ModelRest};
    use crate::analysis::rest_model::plan::Plan;
    use crate::analysis::rest_model::settings::Settings;

    #[derive(serde::Deserialize)]
    struct Case {
        car: Car,
    }

    /// The longest rest of a corner of an invented car, with another pressure.
    fn stretch_of(kpa_abs: impl Fn(usize, f64) -> f64) -> Vec<f64> {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/rest_model/fixtures");
        let text = std::fs::read_to_string(format!("{folder}/soak-healthy.json")).unwrap();
        let car = serde_json::from_str::<Case>(&text).unwrap().car;
        let corner = |r: &&ModelRest| !car.volumes[r.volume].is_tank;
        let length = |r: &&ModelRest| r.end_s - r.start_s;
        let longest = car.rests.iter().filter(corner);
        let longest = longest.max_by(|a, b| length(a).total_cmp(&length(b)));
        let mut rest = longest.unwrap().clone();
        let last = rest.t_s.len() - 1;
        for i in 0..=last {
            let share = (rest.t_s[i] - rest.t_s[0]) / (rest.t_s[last] - rest.t_s[0]);
            rest.kpa_abs[i] = kpa_abs(i, share);
        }
        rest.ln_variance.fill(1e-6);
        let settings = Settings::default();
        let plan = Plan::new(&car, &settings).unwrap();
        let columns = Columns::new(&plan, &rest);
        let stretch = |target: &Target| matches!(target, Target::Error { key, .. } if key.family == Family::Beta);
        let found = columns.persistent.into_iter().find(|c| stretch(&c.0));
        found.unwrap().1
    }

    fn sd(values: &[f64]) -> f64 {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt()
    }

    /// Noise of the readings is in the amount of air too: a column that has it would be
    /// taken for a stretch of −1/p, 30 times the usual size.
    #[test]
    fn noise_of_the_pressure_is_no_stretch_and_a_slow_change_is() {
        let noise = |i: usize| if i.is_multiple_of(2) { 1.6 } else { -1.6 };
        let noisy = stretch_of(|i, _| 500.0 + noise(i));
        assert!(sd(&noisy) < 0.25 * 0.016, "{}", sd(&noisy));
        let slow = stretch_of(|_, share| 500.0 - 60.0 * share);
        let plain = stretch_of(|i, share| 500.0 - 60.0 * share + noise(i));
        assert!(
            (sd(&slow) / 0.6 * 12_f64.sqrt() - 1.0).abs() < 0.25,
            "{}",
            sd(&slow)
        );
        let pairs = slow.iter().zip(&plain);
        assert!(pairs.clone().all(|(a, b)| (a - b).abs() < 0.012));
    }
}
