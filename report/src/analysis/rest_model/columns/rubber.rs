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
    use crate::analysis::rest_model::fixtures;
    use crate::analysis::rest_model::input::ModelRest;
    use crate::analysis::rest_model::plan::Plan;
    use crate::analysis::rest_model::settings::Settings;

    /// Stretch of the longest rest of a corner of an invented car, whose means have another
    /// pressure: one by their number and age.
    fn stretch_of(kpa_abs: impl Fn(usize, f64) -> f64) -> Vec<f64> {
        let car = fixtures::car("soak-healthy");
        let corner = |r: &&ModelRest| !car.volumes[r.volume].is_tank;
        let length = |r: &&ModelRest| r.end_s - r.start_s;
        let longest = car.rests.iter().filter(corner);
        let longest = longest.max_by(|a, b| length(a).total_cmp(&length(b)));
        let mut rest = longest.unwrap().clone();
        for i in 0..rest.t_s.len() {
            let age_s = rest.t_s[i] - rest.t_s[0];
            rest.kpa_abs[i] = kpa_abs(i, age_s);
            rest.ln_variance[i] = (noise_kpa(i, age_s) / 500.0).powi(2);
        }
        let settings = Settings::default();
        let plan = Plan::new(&car, &settings).unwrap();
        let columns = Columns::new(&plan, &rest).persistent;
        let is_stretch = |target: &Target| matches!(target, Target::Error { key, .. } if key.family == Family::Beta);
        columns.into_iter().find(|c| is_stretch(&c.0)).unwrap().1
    }

    /// Invented: a reading each minute is off by 1.6 kPa, a mean is 16 % of its age long.
    fn noise_kpa(i: usize, age_s: f64) -> f64 {
        let sign = if i.is_multiple_of(2) { 1.0 } else { -1.0 };
        sign * 1.6 / (1.0 + 0.16 * age_s / 60.0).sqrt()
    }

    fn sum_of_squares(values: impl Iterator<Item = f64>) -> f64 {
        values.map(|x| x * x).sum()
    }

    /// Noise of the readings is in the amount of air too: a column that has it would be
    /// taken for a stretch of −1/p, 30 times the usual size.
    #[test]
    fn noise_of_the_pressure_is_no_stretch_and_a_slow_change_is() {
        let slow = |age_s: f64| 500.0 - 60.0 * age_s / 43_200.0;
        let calm = stretch_of(|_, age_s| slow(age_s));
        let noisy = stretch_of(|i, age_s| slow(age_s) + noise_kpa(i, age_s));
        let pairs = noisy.iter().zip(&calm);
        let left = sum_of_squares(pairs.map(|(a, b)| a - b));
        let ages = (0..calm.len()).map(|i| 43_200.0 * i as f64 / calm.len() as f64);
        let all = sum_of_squares(ages.enumerate().map(|(i, t)| noise_kpa(i, t) / 100.0));
        assert!(left < 0.1 * all, "{left} of {all}");
        let (first, last) = (calm[0], calm[calm.len() - 1]);
        assert!(last - first > 0.4, "{first} to {last}");
    }
}
