//! Weighted least squares of separate events, with errors widened for autocorrelation.

use super::stats::effective_sample_size;
use nalgebra::{DMatrix, DVector};

/// Result of a regression.
#[derive(Debug, Clone)]
pub(crate) struct Regression {
    pub values: Vec<f64>,
    /// Standard errors, widened for autocorrelated residuals.
    pub standard_errors: Vec<f64>,
    /// Independent readings less parameters.
    pub degrees_of_freedom: f64,
    /// Autocorrelation of neighbouring residuals.
    #[cfg(test)]
    pub lag1: f64,
}

/// Fits `y = Σ cᵢ·columnᵢ + noise`. `None` with fewer than three readings more than
/// columns, or where a column is nil.
///
/// Residuals of events (runs, moves, rests) may resemble their neighbours: with lag-1
/// autocorrelation r the n readings are worth n·(1−r)/(1+r), which goes into the variance
/// and the degrees of freedom.
///
/// **Source**: effective sample size of an AR(1) series (Santer et al. 2000, from memory,
/// unverified).
pub(crate) fn regress(columns: &[Vec<f64>], y: &[f64], weights: &[f64]) -> Option<Regression> {
    let (n, p) = (y.len(), columns.len());
    if n < p + 3 {
        return None;
    }
    // Columns are scaled to unit size so that the matrix is well conditioned.
    let scale: Vec<f64> = columns.iter().map(|c| size(c)).collect();
    if scale.iter().any(|s| *s <= 0.0 || !s.is_finite()) {
        return None;
    }
    let root_weights: Vec<f64> = weights.iter().map(|w| w.sqrt()).collect();
    let x = DMatrix::from_fn(n, p, |i, j| columns[j][i] / scale[j] * root_weights[i]);
    let rhs = DVector::from_fn(n, |i, _| y[i] * root_weights[i]);
    let inverse = (x.transpose() * &x).cholesky()?.inverse();
    let values = &inverse * (x.transpose() * &rhs);
    let residuals = rhs - &x * &values;
    let lag1 = lag1(residuals.as_slice());
    let degrees_of_freedom = (effective_sample_size(n, lag1) - p as f64).max(1.0);
    let variance = (residuals.norm_squared() / degrees_of_freedom).max(f64::MIN_POSITIVE);
    Some(Regression {
        values: (0..p).map(|j| values[j] / scale[j]).collect(),
        standard_errors: (0..p)
            .map(|j| (variance * inverse[(j, j)]).sqrt() / scale[j])
            .collect(),
        degrees_of_freedom,
        #[cfg(test)]
        lag1,
    })
}

fn size(column: &[f64]) -> f64 {
    (column.iter().map(|v| v * v).sum::<f64>() / column.len().max(1) as f64).sqrt()
}

fn lag1(residuals: &[f64]) -> f64 {
    let total: f64 = residuals.iter().map(|r| r * r).sum();
    if total <= 0.0 {
        return 0.0;
    }
    let products: f64 = residuals.windows(2).map(|w| w[0] * w[1]).sum();
    (products / total).clamp(-0.95, 0.98)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn autocorrelated_residuals_widen_the_error() {
        let n = 400;
        let ones = vec![1.0; n];
        let wave: Vec<f64> = (0..n).map(|i| (i as f64 / 20.0).sin()).collect();
        let r = regress(std::slice::from_ref(&ones), &wave, &ones).expect("solves");
        assert!(r.lag1 > 0.9);
        assert!(r.standard_errors[0] > 3.0 * 0.7 / (n as f64).sqrt());
    }

    /// Coefficients of a line without noise, by hand: y = 2 + 3·x.
    #[test]
    fn a_line_is_found_whatever_its_scale() {
        let x: Vec<f64> = (0..20).map(|i| 1e6 * f64::from(i)).collect();
        let y: Vec<f64> = x.iter().map(|x| 2.0 + 3.0 * x).collect();
        let ones = vec![1.0; 20];
        let r = regress(&[ones.clone(), x], &y, &ones).expect("solves");
        assert!((r.values[1] - 3.0).abs() < 1e-9 && (r.values[0] - 2.0).abs() < 1e-3);
        assert!(regress(std::slice::from_ref(&ones), &y[..3], &ones[..3]).is_none());
    }
}
