//! Air that left a volume in one rest, whatever the law of its leak.
//!
//! Of a leak that takes much of the air the conductance says too little: a hole and a
//! laminar seep of the same conductance empty the corner at different speeds. What left
//! is known better than the law, by the readings at both ends.

use nalgebra::{DMatrix, DVector};

use super::columns::{Columns, Target};
use super::covariance::{RestCovariance, START_VARIANCE, add_table_error};
use super::linear::Factor;
use super::model::Model;
use super::posterior::{Posterior, free_breadth};

/// Share of the air from which the law of a leak matters to the mean flow: a hole's flow
/// falls with the pressure and a seep's with its square, so that half of this share is
/// what the mean may be off, less than the 6 % of a rest's volume and height.
const LAW_MATTERS_FROM: f64 = 0.05;

/// Air that left, net of what came in, L ANR.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct AirLost {
    pub(super) anr_l: f64,
    pub(super) se_l: f64,
}

/// What is common to all rests of a car.
pub(super) struct AirLosses<'a> {
    pub(super) model: &'a Model<'a>,
    pub(super) posterior: &'a Posterior,
}

impl AirLosses<'_> {
    /// Air that left in one rest, of whose volume about `expected` per unit of the leak's
    /// column leaves (conductance of leaks and transfers together).
    ///
    /// Equation: `ℓ = E[K α]`, `α = (K + N)⁻¹ (y − Xβ)` at the end of the rest; `K` the
    /// covariance of every course that the loss may take, `N` that of everything else;
    /// air lost `n₀·(1 − e^(−ℓ))`. **Source**: conditional mean of a Gaussian vector.
    pub(super) fn of_rest(&self, rest: usize, expected: f64) -> Option<AirLost> {
        let plan = self.model.plan;
        let columns = Columns::new(plan, &plan.car.rests[rest]);
        let mut left = DVector::from_column_slice(&columns.y);
        let mut moved = DVector::zeros(columns.len());
        let mut errors = Vec::new();
        let mut doubtful: Vec<(f64, &[f64])> = Vec::new();
        let indices = &self.model.columns_of[rest];
        for ((target, column), i) in columns.persistent.iter().zip(indices) {
            let Some(k) = self.posterior.place[*i] else {
                continue;
            };
            let mean = self.posterior.mean[k];
            let value = match target {
                Target::Hypothesis(_) => mean,
                Target::Error { .. } => {
                    // Beyond its usual size it may be the law of the loss, which all
                    // rests of the volume share, as well as an error.
                    let usual = self.model.parameters.usual_sd[*i];
                    if mean.abs() > usual {
                        doubtful.push((usual, column.as_slice()));
                    }
                    errors.push((k, column.as_slice()));
                    mean.clamp(-usual, usual) + self.model.parameters.mean[*i]
                }
            };
            let part = DVector::from_column_slice(column) * value;
            left -= &part;
            if matches!(target, Target::Hypothesis(_)) {
                moved += part;
            }
        }
        let lost = self.lost(rest, &columns);
        let mut noise = self.noise(rest, &columns, &errors, expected);
        for (sd, column) in &doubtful {
            let column = DVector::from_column_slice(column);
            noise.ger(sd * sd, &column, &column, 1.0);
        }
        let factor = Factor::new(&lost + noise)?;
        let last = columns.len() - 1;
        let at_end = lost.row(last).transpose();
        let weights = factor.solve(&at_end);
        let change = moved[last] + weights.dot(&left);
        let variance = (lost[(last, last)] - weights.dot(&at_end)).max(0.0);
        let left_over = change.min(1.0).exp();
        Some(AirLost {
            anr_l: columns.air_l[0] * (1.0 - left_over),
            se_l: columns.air_l[0] * left_over * variance.sqrt(),
        })
    }

    /// Covariance of the courses of the loss: a hole of any size, and the law between a
    /// hole and a seep.
    fn lost(&self, rest: usize, columns: &Columns<'_>) -> DMatrix<f64> {
        let free = free_breadth(self.model.plan);
        let c0 = self.model.states[rest].c0;
        let hole = DVector::from_column_slice(&columns.leak) * free;
        let law = DVector::from_column_slice(&columns.seep_minus_hole) * c0;
        &hole * hole.transpose() + &law * law.transpose()
    }

    /// Covariance of everything else.
    fn noise(
        &self,
        rest: usize,
        columns: &Columns<'_>,
        errors: &[(usize, &[f64])],
        expected: f64,
    ) -> DMatrix<f64> {
        let n = columns.len();
        let unrest = self.model.states[rest].unrest;
        let mut noise = RestCovariance::new(columns).at(unrest);
        add_table_error(&mut noise, columns, expected);
        noise.fill_upper_triangle_with_lower_triangle();
        noise.add_scalar_mut(START_VARIANCE);
        for (_, column) in &columns.shared {
            let column = DVector::from_column_slice(column);
            noise.ger(1.0, &column, &column, 1.0);
        }
        let x = DMatrix::from_fn(n, errors.len(), |i, j| errors[j].1[i]);
        let known = DMatrix::from_fn(errors.len(), errors.len(), |i, j| {
            self.posterior.covariance[(errors[i].0, errors[j].0)]
        });
        noise + &x * known * x.transpose()
    }
}

/// Whether the law of the leak matters to the mean flow of rests that lose `expected` per
/// unit of their leak's column, `unit` in all.
pub(super) fn law_matters(expected: f64, unit: f64) -> bool {
    (expected * unit).abs() > LAW_MATTERS_FROM
}

#[cfg(test)]
mod tests {
    use crate::analysis::rest_model::fit::fit;
    use crate::analysis::rest_model::fixtures;
    use crate::analysis::rest_model::input::Car;
    use crate::analysis::rest_model::settings::Settings;

    /// An invented sound car whose first volume gets a laminar seep to the outside at
    /// constant volume and temperature.
    ///
    /// **Source**: closed form of `dp/dt = −k·(p² − p₀²)`: `p = p₀·(1 + x)/(1 − x)`,
    /// `x = x₀·e^(−2 k p₀ t)`.
    fn seeping() -> Car {
        let mut car = fixtures::car("soak-healthy");
        let volume = car.rests[0].volume;
        for rest in car.rests.iter_mut().filter(|r| r.volume == volume) {
            let start = rest.kpa_abs[0];
            let outside = rest.outside_kpa_abs[0];
            let x0 = (start - outside) / (start + outside);
            for i in 0..rest.t_s.len() {
                let hours = (rest.t_s[i] - rest.t_s[0]) / 3600.0;
                let x = x0 * (-0.06 * hours).exp();
                rest.kpa_abs[i] = outside * (1.0 + x) / (1.0 - x);
                rest.kelvin[i] = rest.kelvin[0];
                rest.volume_l[i] = rest.volume_l[0];
                rest.outside_kpa_abs[i] = outside;
            }
        }
        car
    }

    /// The gas law at both ends knows of no leak's law. Within 3 %, by which the table of
    /// a volume may be off.
    #[test]
    fn what_left_is_what_the_gas_law_says_of_both_ends() {
        let car = seeping();
        let volume = car.rests[0].volume;
        let (mut seen, mut worst_of_hole) = (0, 0.0_f64);
        for park in fit(&car, &Settings::default()).rests {
            let [rest] = park.rests[..] else { continue };
            let rest = &car.rests[rest];
            let last = rest.t_s.len() - 1;
            let share = rest.kpa_abs[last] / rest.kpa_abs[0];
            if park.volume != volume || share > 0.7 {
                continue;
            }
            let start_l = rest.kpa_abs[0] / 100.0 * rest.volume_l[0] * 293.15 / rest.kelvin[0];
            let off = |conductance: f64| {
                let flow = (conductance + park.transferred) * park.flow_factor;
                flow * (rest.t_s[last] - rest.t_s[0]) / 60_000.0 / (start_l * (1.0 - share)) - 1.0
            };
            let what_left = off(park.conductance);
            assert!(what_left.abs() < 0.03, "{what_left:.3}, {share:.2} is left");
            worst_of_hole = worst_of_hole.max(off(park.model_conductance).abs());
            seen += 1;
        }
        assert!(seen > 5, "{seen}");
        assert!(worst_of_hole > 0.03, "{worst_of_hole:.3}");
    }
}
