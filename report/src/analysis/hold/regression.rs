//! The regression of a hold: its columns, and the loss with a prior on every size.

use super::input::{Conditions, Readings};
use super::settling::{SettlingColumn, columns};
use super::slow::{by_temperature, counts_se_per_s, usual_kpa_abs, wander};
use crate::analysis::stats::mean;
use nalgebra::{Cholesky, DMatrix, DVector};
use seep_common::physics::flow::shape_kpa;

/// Critical pressure ratio of a leak: typical of small holes and fittings (ISO 6358
/// data sheets 0.2 to 0.5), as in the model of a car at rest.
const CRITICAL_RATIO: f64 = 0.3;
/// Standard deviation of the starting level, in ln, and of the loss, in 1/s: as good as
/// free.
const FREE: f64 = 1.0;

/// Standard error of the loss that a design gives, 1/s; `None` where it has none.
pub(super) fn posterior_se(
    readings: &Readings,
    conditions: &Conditions,
    noise_ln: f64,
) -> Option<f64> {
    let design = design(readings, conditions);
    let y = vec![0.0; readings.t_s.len()];
    let fit = posterior(&design, &y, noise_ln)?;
    let by_slow = by_temperature(conditions, usual_kpa_abs(readings)).se_per_s;
    let by_counts = counts_se_per_s(readings, noise_ln, conditions.step_kpa);
    Some(fit.se_of_loss.hypot(by_slow).hypot(by_counts))
}

/// Columns: level, loss, wander, then settling and creep.
pub(super) fn design(readings: &Readings, conditions: &Conditions) -> Vec<SettlingColumn> {
    let (t, p) = (&readings.t_s, &readings.kpa_abs);
    let outside = conditions.outside_kpa_abs;
    let share = |p: f64| shape_kpa(CRITICAL_RATIO, p, outside, 293.15) / p;
    let mut passed = vec![0.0; t.len()];
    for i in 1..t.len() {
        let step = 0.5 * (share(p[i]) + share(p[i - 1])) * (t[i] - t[i - 1]);
        passed[i] = passed[i - 1] + step;
    }
    let mut out = vec![
        SettlingColumn {
            values: vec![1.0; t.len()],
            sd: FREE,
        },
        SettlingColumn {
            values: passed.iter().map(|l| -l).collect(),
            sd: FREE,
        },
    ];
    let kpa_abs = mean(p).unwrap_or(f64::NAN);
    out.extend(wander(t, kpa_abs, conditions));
    out.extend(columns(t, conditions));
    out
}

pub(super) struct LinePosterior {
    pub(super) values: Vec<f64>,
    pub(super) se_of_loss: f64,
}

/// Bayesian linear regression with independent noise and Gaussian priors around zero.
pub(super) fn posterior(design: &[SettlingColumn], y: &[f64], noise: f64) -> Option<LinePosterior> {
    let centre = mean(y)?;
    let k = design.len();
    let precision = 1.0 / (noise * noise);
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let scaled = |j: usize| design[j].sd;
    let gram = DMatrix::from_fn(k, k, |i, j| {
        let data = product(&design[i].values, &design[j].values) * precision;
        data * scaled(i) * scaled(j) + f64::from(u8::from(i == j))
    });
    let off: Vec<f64> = y.iter().map(|v| v - centre).collect();
    let right = DVector::from_fn(k, |i, _| {
        product(&design[i].values, &off) * precision * scaled(i)
    });
    let factor = Cholesky::new(gram)?;
    let solved = factor.solve(&right);
    let mut unit = DVector::zeros(k);
    unit[1] = 1.0;
    let variance = factor.solve(&unit)[1] * scaled(1).powi(2);
    let mut values: Vec<f64> = solved
        .iter()
        .enumerate()
        .map(|(j, v)| v * scaled(j))
        .collect();
    values[0] += centre;
    Some(LinePosterior {
        values,
        se_of_loss: variance.sqrt(),
    })
}
