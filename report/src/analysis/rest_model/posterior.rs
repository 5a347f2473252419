//! Posterior of the global parameters, given which hypotheses are let free.

use nalgebra::{DMatrix, DVector};

use super::information::Information;
use super::linear::{Factor, submatrix, subvector};
use super::parameters::{Parameter, Parameters};
use super::plan::Plan;

/// Breadth of the prior of a hypothesis that is let free, in the largest floor.
const FREE_FLOORS: f64 = 1000.0;
/// Smallest information on which a hypothesis is judged.
const LEAST_INFORMATION: f64 = 1e-9;

/// Conductance and standard error of one hypothesis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Estimated {
    pub(super) c: f64,
    pub(super) se: f64,
}

/// Gaussian posterior over the parameters in use.
pub(super) struct Posterior {
    /// Parameters in use.
    pub(super) used: Vec<usize>,
    /// Place of each parameter among those in use.
    pub(super) place: Vec<Option<usize>>,
    pub(super) covariance: DMatrix<f64>,
    pub(super) mean: DVector<f64>,
    /// Half of the natural logarithm of the determinant of the precision.
    pub(super) half_ln_determinant: f64,
}

/// Prior precision of each parameter: named hypotheses free, other leaks at natural
/// permeation, errors at their learnt size. `None` for a hypothesis out of use.
pub(super) fn prior_precision(
    plan: &Plan<'_>,
    parameters: &Parameters,
    active: &[usize],
) -> Vec<Option<f64>> {
    let free = free_breadth(plan);
    parameters
        .all
        .iter()
        .zip(&parameters.sd)
        .map(|(parameter, sd)| match parameter {
            Parameter::Hypothesis(i) if active.contains(i) => Some(free.powi(-2)),
            Parameter::Hypothesis(_) if sd.is_infinite() => None,
            _ => Some(sd.powi(-2)),
        })
        .collect()
}

/// Standard deviation of the prior of a conductance that is let free.
pub(super) fn free_breadth(plan: &Plan<'_>) -> f64 {
    FREE_FLOORS * plan.largest_floor()
}

impl Posterior {
    /// Solves for all parameters that have a prior precision. `None` where the
    /// precision is not positive definite.
    pub(super) fn new(information: &Information, precision: &[Option<f64>]) -> Option<Self> {
        let used: Vec<usize> = (0..precision.len())
            .filter(|i| precision[*i].is_some())
            .collect();
        let mut place = vec![None; precision.len()];
        for (k, i) in used.iter().enumerate() {
            place[*i] = Some(k);
        }
        let mut a = submatrix(&information.precision, &used, &used);
        for (k, i) in used.iter().enumerate() {
            a[(k, k)] += precision[*i].unwrap_or_default();
        }
        let factor = Factor::new(a)?;
        let covariance = factor.inverse();
        let mean = &covariance * subvector(&information.eta, &used);
        Some(Self {
            used,
            place,
            covariance,
            mean,
            half_ln_determinant: factor.half_ln_determinant(),
        })
    }

    /// Returns the estimate of each hypothesis when it alone is let free beside the
    /// active ones; `None` where the log says nothing about it.
    pub(super) fn hypotheses(
        &self,
        plan: &Plan<'_>,
        parameters: &Parameters,
        information: &Information,
        active: &[usize],
    ) -> Vec<Option<Estimated>> {
        (0..plan.hypotheses.len())
            .map(|i| match self.place[i] {
                Some(k) if active.contains(&i) => Some(Estimated {
                    c: self.mean[k],
                    se: self.covariance[(k, k)].sqrt(),
                }),
                Some(k) => self.without_prior(k, parameters.sd[i]),
                None => self.beside(i, information),
            })
            .collect()
    }

    /// Takes a parameter's own prior out of its posterior.
    fn without_prior(&self, k: usize, sd: f64) -> Option<Estimated> {
        let variance = self.covariance[(k, k)];
        let precision = 1.0 / variance - sd.powi(-2);
        (precision > 1e-12).then(|| Estimated {
            c: self.mean[k] / variance / precision,
            se: precision.powf(-0.5),
        })
    }

    /// A hypothesis out of use, against everything in use.
    fn beside(&self, i: usize, information: &Information) -> Option<Estimated> {
        let cross = DVector::from_fn(self.used.len(), |k, _| {
            information.precision[(i, self.used[k])]
        });
        let precision = information.precision[(i, i)] - cross.dot(&(&self.covariance * &cross));
        (precision > LEAST_INFORMATION).then(|| Estimated {
            c: (information.eta[i] - cross.dot(&self.mean)) / precision,
            se: precision.powf(-0.5),
        })
    }
}
