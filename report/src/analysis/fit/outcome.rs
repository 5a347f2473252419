//! What a fit gives back, or why there is none.

use nalgebra::DMatrix;
use thiserror::Error;

#[cfg(test)]
use super::super::stats::{Interval, student_t_quantile};
use super::super::stats::{effective_sample_size, lag1_autocorrelation};

/// Why an iteration ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// Solved directly, nothing was iterated.
    Direct,
    /// The sum of squares or the parameters no longer change.
    Converged,
    /// No step improves any more, within the digits there are.
    NoFurtherImprovement,
    /// The limit on evaluations was reached: the values are not final.
    OutOfPatience,
}

/// Why there is no fit. *Too little data* is an answer to report, no fault.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum NoFit {
    /// Not more points than parameters.
    #[error("{points} points are too few: {needed} or more are needed")]
    TooFewPoints {
        /// Points given.
        points: usize,
        /// Points needed.
        needed: usize,
    },
    /// Slices or rows that belong together have different lengths.
    #[error("{points} values stand against {other}")]
    LengthsDiffer {
        /// Number of observations (or width of the first row).
        points: usize,
        /// Length that differs.
        other: usize,
    },
    /// An input is infinite or not a number.
    #[error("point {point} (counted from 0) is not a finite number")]
    NotFinite {
        /// Index of the point.
        point: usize,
    },
    /// A weight is not a positive finite number.
    #[error("the weight of point {point} (counted from 0) is not positive and finite")]
    BadWeight {
        /// Index of the point.
        point: usize,
    },
    /// The data do not tell these parameters apart.
    #[error("the data do not tell parameters {parameters:?} (counted from 0) apart")]
    NotIdentifiable {
        /// Indices of the parameters that take part; may be empty.
        parameters: Vec<usize>,
    },
    /// The model is not finite at the start values, or leaves its domain from
    /// there.
    #[error("the model is not finite at or near the start values {start}")]
    BadStart {
        /// Start values, printed.
        start: String,
    },
}

/// A least-squares fit.
///
/// **Units**: values as the model defines them; `residual_sd` and `residuals`
/// those of the observations (`residual_sd` is for a point of weight 1).
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Parameter values, in the order the model defines.
    pub values: Vec<f64>,
    /// Standard errors of the values.
    pub standard_errors: Vec<f64>,
    /// Covariance matrix of the values.
    pub covariance: DMatrix<f64>,
    /// Standard deviation of the residuals, √(rss/df).
    pub residual_sd: f64,
    /// Degrees of freedom: points (or what they are worth) less parameters.
    pub degrees_of_freedom: f64,
    /// Weighted sum of squared residuals.
    pub rss: f64,
    /// Why the fit ended.
    pub stop: Stop,
    /// Observed less fitted, in the order of the points.
    pub residuals: Vec<f64>,
    /// Lag-1 autocorrelation of the weighted residuals, as it is; `None` when
    /// they have no spread. Means something only for points in time order.
    pub residual_lag1: Option<f64>,
    /// Number of independent points the residuals are worth. See
    /// [`Fit::allowing_for_autocorrelation`].
    pub effective_sample_size: f64,
}

/// What a solver hands over to be made a [`Fit`].
pub(super) struct Solved {
    pub(super) values: Vec<f64>,
    /// (JᵀWJ)⁻¹.
    pub(super) unscaled_covariance: DMatrix<f64>,
    /// Observed less fitted, not weighted.
    pub(super) residuals: Vec<f64>,
    pub(super) root_weights: Vec<f64>,
    pub(super) stop: Stop,
}

impl Fit {
    pub(super) fn new(solved: Solved) -> Self {
        let points = solved.residuals.len();
        let parameters = solved.values.len();
        let weighted: Vec<f64> = solved
            .residuals
            .iter()
            .zip(&solved.root_weights)
            .map(|(r, w)| r * w)
            .collect();
        let rss: f64 = weighted.iter().map(|r| r * r).sum();
        let degrees_of_freedom = points as f64 - parameters as f64;
        let residual_sd = (rss / degrees_of_freedom).sqrt();
        let covariance = solved.unscaled_covariance * residual_sd.powi(2);
        let residual_lag1 = lag1_autocorrelation(&weighted);
        let r1 = unbiased_lag1(residual_lag1.unwrap_or(0.0), points, parameters as f64);
        Fit {
            standard_errors: roots_of_diagonal(&covariance),
            values: solved.values,
            covariance,
            residual_sd,
            degrees_of_freedom,
            rss,
            stop: solved.stop,
            residuals: solved.residuals,
            residual_lag1,
            effective_sample_size: effective_sample_size(points, r1),
        }
    }

    /// Interval of one parameter by Student t, from its standard error. Open
    /// when no degree of freedom is left.
    #[cfg(test)]
    pub(super) fn interval(&self, parameter: usize, level: f64) -> Interval {
        let t = student_t_quantile(f64::midpoint(1.0, level), self.degrees_of_freedom);
        let half_width = t * self.standard_errors[parameter];
        Interval::around(self.values[parameter], half_width, level)
    }

    /// The same values with errors and degrees of freedom for residuals that
    /// follow an AR(1) process: n is replaced by the effective sample size
    /// n·(1 − r)/(1 + r) both in the residual variance and in Student t.
    ///
    /// r is the lag-1 coefficient of the residuals plus its expected bias. A
    /// negative r changes nothing. When the effective size does not exceed the
    /// number of parameters, no degree of freedom is left and every interval
    /// is open. The correction supposes regressors that vary slowly, as time
    /// does, and evenly spaced points.
    ///
    /// Coverage of the slope of a line at a nominal 95 %, simulated: 94 to 97 %
    /// for 40 points and more that are worth 10 or more; 92 to 94 % where they
    /// are worth 5; 86 to 92 % for 8 to 20 points that are worth 3 or fewer,
    /// where the interval is often open.
    ///
    /// **Source**: Santer et al., J. Geophys. Res. 105 (2000) 7337, eq. 4–6;
    /// bias after Kendall, Biometrika 41 (1954) 403 (both cited from memory).
    #[must_use]
    pub fn allowing_for_autocorrelation(&self) -> Fit {
        let df = (self.effective_sample_size - self.values.len() as f64).max(0.0);
        if df >= self.degrees_of_freedom {
            return self.clone();
        }
        // With less than one degree of freedom left the errors stay finite and
        // Student t opens the interval.
        let inflation = self.degrees_of_freedom / df.max(1.0);
        let covariance = &self.covariance * inflation;
        Fit {
            standard_errors: roots_of_diagonal(&covariance),
            covariance,
            residual_sd: self.residual_sd * inflation.sqrt(),
            degrees_of_freedom: df,
            ..self.clone()
        }
    }
}

fn roots_of_diagonal(covariance: &DMatrix<f64>) -> Vec<f64> {
    covariance.diagonal().iter().map(|v| v.sqrt()).collect()
}

/// Take the expected bias off the lag-1 coefficient of residuals after fitting
/// `parameters`: about −(parameters + (parameters + 2)·r)/n.
pub(crate) fn unbiased_lag1(r1: f64, points: usize, parameters: f64) -> f64 {
    let (n, p) = (points as f64, parameters);
    ((r1 * n + p) / (n - p - 2.0).max(1.0)).clamp(-1.0, 1.0)
}
