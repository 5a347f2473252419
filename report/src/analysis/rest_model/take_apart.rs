//! One parked period taken apart: what each cause adds to the change of air.
//!
//! With `y = a + Xβ + Zγ + w + e` and everything Gaussian, each part is its posterior
//! mean: `β` from all parks together, the rest of this park from the covariances of the
//! parts, `E[part] = Σ_part Σ⁻¹ (y − Xβ)`. The parts add up to the readings because the
//! `Σ_part` add up to `Σ`.
//!
//! **Source**: conditional mean of a Gaussian vector.

use nalgebra::{DMatrix, DVector};

use super::columns::{Cause, Columns, SharedKey, Target};
use super::covariance::{START_VARIANCE, add_leak_shape, add_temperature_wander, fixed};
use super::linear::Factor;
use super::model::Model;
use super::parts::RestParts;
use super::posterior::Posterior;

/// Takes the rests of a park apart, given the posterior of all parks. `None` where a
/// covariance is not positive definite.
pub(super) fn take_apart(
    model: &Model<'_>,
    posterior: &Posterior,
    park: usize,
) -> Option<Vec<RestParts>> {
    let unusable = model.unusable();
    let usable = model.parks[park].1.iter().filter(|i| !unusable.contains(i));
    let rests: Vec<Apart> = usable.map(|i| Apart::new(model, posterior, *i)).collect();
    let alpha = whitened_twice(&rests)?;
    let mut from = 0;
    let mut out = Vec::with_capacity(rests.len());
    for (k, rest) in rests.iter().enumerate() {
        let n = rest.columns.len();
        let own = alpha.rows(from, n).into_owned();
        out.push(rest.parts(&own, &shared_part(&rests, k, &alpha)));
        from += n;
    }
    Some(out)
}

/// One rest while it is taken apart.
struct Apart<'a> {
    rest: usize,
    columns: Columns<'a>,
    /// `y − Xβ`.
    left: DVector<f64>,
    /// Part of the persistent columns, by cause.
    persistent: Vec<(Cause, DVector<f64>)>,
    /// Covariances of this rest's own parts, by cause.
    own: Vec<(Cause, DMatrix<f64>)>,
    /// Noise, counts, hysteresis.
    fixed: DMatrix<f64>,
}

impl<'a> Apart<'a> {
    fn new(model: &Model<'a>, posterior: &Posterior, rest: usize) -> Self {
        let plan = model.plan;
        let columns = Columns::new(plan, &plan.car.rests[rest]);
        let state = model.states[rest];
        let mut left = DVector::from_column_slice(&columns.y);
        let mut persistent: Vec<(Cause, DVector<f64>)> = Vec::new();
        let indices = &model.columns_of[rest];
        for ((target, column), i) in columns.persistent.iter().zip(indices) {
            let Some(k) = posterior.place[*i] else {
                continue;
            };
            let value = posterior.mean[k] + model.parameters.mean[*i];
            let part = DVector::from_column_slice(column) * value;
            left -= &part;
            add(&mut persistent, cause(target), part);
        }
        let n = columns.len();
        let mut own: Vec<(Cause, DMatrix<f64>)> = Vec::new();
        let f2 = state.unrest * state.unrest;
        for (cause, column) in &columns.own {
            let column = DVector::from_column_slice(column);
            add(&mut own, *cause, f2 * &column * column.transpose());
        }
        let mut wander = DMatrix::zeros(n, n);
        add_temperature_wander(&mut wander, &columns);
        add(&mut own, Cause::Heat, f2 * symmetric(wander));
        let mut leak = DMatrix::zeros(n, n);
        add_leak_shape(&mut leak, &columns, state.c0);
        let mut leak = symmetric(leak);
        let unit = DVector::from_column_slice(&columns.leak);
        leak += state.omega * state.omega * &unit * unit.transpose();
        add(&mut own, Cause::Leak, leak);
        let fixed = symmetric(fixed(&columns));
        Self {
            rest,
            columns,
            left,
            persistent,
            own,
            fixed,
        }
    }

    fn covariance(&self) -> DMatrix<f64> {
        let mut sum = self.fixed.add_scalar(START_VARIANCE);
        self.own.iter().for_each(|(_, part)| sum += part);
        sum
    }

    /// Parts of this rest; `alpha` is its share of `Σ⁻¹ (y − Xβ)`, `weather` what the
    /// volumes of the park share.
    fn parts(&self, alpha: &DVector<f64>, weather: &DVector<f64>) -> RestParts {
        let of = |wanted: Cause| -> Vec<f64> {
            let mut sum = DVector::zeros(self.columns.len());
            if wanted == Cause::Weather {
                sum += weather;
            }
            for (cause, part) in &self.persistent {
                if *cause == wanted {
                    sum += part;
                }
            }
            for (cause, part) in &self.own {
                if *cause == wanted {
                    sum += part * alpha;
                }
            }
            from_start(sum.as_slice())
        };
        let rest = self.columns.rest;
        let slope = rest.slope_l_per_mm.first().filter(|s| **s > 0.0);
        RestParts {
            rest: self.rest,
            t_s: rest.t_s.clone(),
            observed: from_start(&self.columns.y),
            leak: of(Cause::Leak),
            heat: of(Cause::Heat),
            creep: of(Cause::Creep),
            settling: of(Cause::Settling),
            weather: of(Cause::Weather),
            remainder: from_start((&self.fixed * alpha).as_slice()),
            mm_per_ln: slope.map(|s| rest.volume_l[0] / s),
            kpa_per_ln: rest.kpa_abs[0],
        }
    }
}

fn cause(target: &Target) -> Cause {
    match target {
        Target::Hypothesis(_) => Cause::Leak,
        Target::Error { key, .. } => key.family.cause(),
    }
}

fn add<T: std::ops::AddAssign>(parts: &mut Vec<(Cause, T)>, cause: Cause, part: T) {
    match parts.iter_mut().find(|p| p.0 == cause) {
        Some((_, sum)) => *sum += part,
        None => parts.push((cause, part)),
    }
}

/// Completes a matrix of which the lower triangle is filled.
fn symmetric(mut lower: DMatrix<f64>) -> DMatrix<f64> {
    lower.fill_upper_triangle_with_lower_triangle();
    lower
}

fn from_start(values: &[f64]) -> Vec<f64> {
    let start = values.first().copied().unwrap_or(0.0);
    values.iter().map(|v| v - start).collect()
}

/// Covariance between two rests by what the volumes of a park share.
fn shared(a: &Apart<'_>, b: &Apart<'_>) -> DMatrix<f64> {
    let mut sum = DMatrix::zeros(a.columns.len(), b.columns.len());
    let of = |rest: &Apart<'_>, key: &SharedKey| -> Option<DVector<f64>> {
        let found = rest.columns.shared.iter().find(|s| s.0 == *key);
        found.map(|s| DVector::from_column_slice(&s.1))
    };
    for (key, column) in &a.columns.shared {
        if let Some(theirs) = of(b, key) {
            sum += DVector::from_column_slice(column) * theirs.transpose();
        }
    }
    sum
}

/// `Σ⁻¹ (y − Xβ)` of all rests of the park.
fn whitened_twice(rests: &[Apart<'_>]) -> Option<DVector<f64>> {
    let total: usize = rests.iter().map(|r| r.columns.len()).sum();
    let mut sigma = DMatrix::zeros(total, total);
    let mut left = DVector::zeros(total);
    let mut row = 0;
    for a in rests {
        let n = a.columns.len();
        left.rows_mut(row, n).copy_from(&a.left);
        let mut column = 0;
        for b in rests {
            let m = b.columns.len();
            let mut block = shared(a, b);
            if a.rest == b.rest {
                block += a.covariance();
            }
            sigma.view_mut((row, column), (n, m)).copy_from(&block);
            column += m;
        }
        row += n;
    }
    Factor::new(sigma).map(|factor| factor.solve(&left))
}

fn shared_part(rests: &[Apart<'_>], k: usize, alpha: &DVector<f64>) -> DVector<f64> {
    let mut sum = DVector::zeros(rests[k].columns.len());
    let mut from = 0;
    for other in rests {
        let n = other.columns.len();
        sum += shared(&rests[k], other) * alpha.rows(from, n);
        from += n;
    }
    sum
}
