//! Uncertainty of a quantity computed from others.

use super::mean;
use nalgebra::{DMatrix, DVector};

/// A value and its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Propagated {
    /// Value of the function.
    pub value: f64,
    /// Standard uncertainty.
    pub standard_error: f64,
}

/// First-order propagation with correlations: `u² = Σ Σ ∂f/∂xi·∂f/∂xj·u(xi,xj)`.
///
/// Derivatives by central differences over a tenth of each uncertainty.
/// The covariance may be that of a [`Fit`](crate::analysis::fit::Fit).
///
/// **Domain**: f nearly straight over an uncertainty or two. **Source**: JCGM
/// 100:2008 (GUM), equation 13.
///
/// ```
/// use seep_report::analysis::stats::propagate;
/// let covariance = nalgebra::DMatrix::from_row_slice(2, 2, &[0.04, 0.0, 0.0, 0.09]);
/// let sum = propagate(&[1.0, 2.0], &covariance, |v| v[0] + v[1]);
/// assert!((sum.standard_error - 0.13_f64.sqrt()).abs() < 1e-9);
/// ```
///
/// # Panics
/// When the covariance has not one row and column per value.
#[must_use]
pub fn propagate(
    values: &[f64],
    covariance: &DMatrix<f64>,
    f: impl Fn(&[f64]) -> f64,
) -> Propagated {
    let mut at = values.to_vec();
    let mut slope = vec![0.0; values.len()];
    for i in 0..values.len() {
        let step = 0.1 * covariance[(i, i)].max(0.0).sqrt();
        if step > 0.0 {
            at[i] = values[i] + step;
            let up = f(&at);
            at[i] = values[i] - step;
            slope[i] = (up - f(&at)) / (2.0 * step);
            at[i] = values[i];
        }
    }
    let slope = DVector::from_vec(slope);
    let variance = slope.dot(&(covariance * &slope));
    Propagated {
        value: f(values),
        standard_error: variance.max(0.0).sqrt(),
    }
}

/// Pearson correlation; `None` below two pairs or without spread.
///
/// ```
/// use seep_report::analysis::stats::correlation;
/// assert!((correlation(&[1.0, 2.0, 3.0], &[2.0, 4.0, 6.0]).unwrap() - 1.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn correlation(a: &[f64], b: &[f64]) -> Option<f64> {
    if a.len() != b.len() || a.len() < 2 {
        return None;
    }
    let (ma, mb) = (mean(a)?, mean(b)?);
    let cross: f64 = a.iter().zip(b).map(|(x, y)| (x - ma) * (y - mb)).sum();
    let square = |v: &[f64], m: f64| v.iter().map(|x| (x - m) * (x - m)).sum::<f64>();
    let spread = (square(a, ma) * square(b, mb)).sqrt();
    (spread > 0.0).then(|| cross / spread)
}
