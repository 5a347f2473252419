//! Least squares with terms that are known beforehand to be small.

use nalgebra::{DMatrix, DVector};

/// One term of the model.
#[derive(Debug, Clone)]
pub(crate) struct Term {
    /// Its value at each reading.
    pub column: Vec<f64>,
    /// Known size of its coefficient (mean 0), one standard deviation; `None`: free.
    pub prior_sd: Option<f64>,
}

impl Term {
    pub(crate) fn free(column: Vec<f64>) -> Self {
        Term {
            column,
            prior_sd: None,
        }
    }

    pub(crate) fn small(column: Vec<f64>, prior_sd: f64) -> Self {
        Term {
            column,
            prior_sd: Some(prior_sd),
        }
    }
}

/// Result of a regression.
#[derive(Debug, Clone)]
pub(crate) struct Regression {
    pub values: Vec<f64>,
    /// Standard errors, widened for autocorrelated residuals.
    pub standard_errors: Vec<f64>,
    pub degrees_of_freedom: f64,
    /// Autocorrelation of neighbouring residuals.
    pub lag1: f64,
    /// Bayesian information criterion; lower is better.
    pub bic: f64,
}

/// `y = Σ cᵢ·termᵢ + noise`, coefficients with a prior pulled to zero by it.
///
/// A prior of standard deviation s on a coefficient equals one extra
/// observation `0 = c ± s`; the residual variance is iterated, since the extra
/// observation is weighed against it. Residuals of slowly changing quantities
/// resemble their neighbours: with lag-1 autocorrelation r the effective
/// number of readings is n·(1−r)/(1+r), and the errors are widened for that.
///
/// **Source**: generalised least squares with prior information (Theil and
/// Goldberger 1961, from memory); effective sample size of an AR(1) series
/// (Bayley and Hammersley 1946, from memory).
pub(crate) fn regress(terms: &[Term], y: &[f64], weights: &[f64]) -> Option<Regression> {
    let (n, p) = (y.len(), terms.len());
    let free = terms.iter().filter(|t| t.prior_sd.is_none()).count();
    if n < free + 3 {
        return None;
    }
    // Columns are scaled to unit size so that the matrix is well conditioned.
    let scale: Vec<f64> = terms.iter().map(|t| size(&t.column)).collect();
    if scale.iter().any(|s| *s <= 0.0 || !s.is_finite()) {
        return None;
    }
    let x = DMatrix::from_fn(n, p, |i, j| {
        terms[j].column[i] / scale[j] * weights[i].sqrt()
    });
    let rhs = DVector::from_fn(n, |i, _| y[i] * weights[i].sqrt());
    let xtx = x.transpose() * &x;
    let xty = x.transpose() * &rhs;
    let mut variance = start_variance(&x, &rhs, terms)?;
    let mut solved = None;
    for _ in 0..3 {
        let mut a = xtx.clone();
        for (j, term) in terms.iter().enumerate() {
            if let Some(sd) = term.prior_sd {
                a[(j, j)] += variance / (sd * scale[j]).powi(2);
            }
        }
        let inverse = a.cholesky()?.inverse();
        let values = &inverse * &xty;
        let residuals = &rhs - &x * &values;
        let degrees = (n - free) as f64;
        variance = (residuals.norm_squared() / degrees).max(f64::MIN_POSITIVE);
        solved = Some((values, inverse, residuals, degrees));
    }
    let (values, inverse, residuals, degrees) = solved?;
    let lag1 = lag1(residuals.as_slice());
    let widen = ((1.0 + lag1) / (1.0 - lag1)).max(1.0);
    let effective = (n as f64 / widen).max(free as f64 + 1.0);
    Some(Regression {
        values: (0..p).map(|j| values[j] / scale[j]).collect(),
        standard_errors: (0..p)
            .map(|j| (variance * widen * inverse[(j, j)]).sqrt() / scale[j])
            .collect(),
        degrees_of_freedom: (effective - free as f64).clamp(1.0, degrees),
        lag1,
        bic: effective * variance.ln() + free as f64 * effective.max(2.0).ln(),
    })
}

fn size(column: &[f64]) -> f64 {
    (column.iter().map(|v| v * v).sum::<f64>() / column.len().max(1) as f64).sqrt()
}

/// Residual variance with the free terms alone.
fn start_variance(x: &DMatrix<f64>, rhs: &DVector<f64>, terms: &[Term]) -> Option<f64> {
    let columns: Vec<usize> = (0..terms.len())
        .filter(|j| terms[*j].prior_sd.is_none())
        .collect();
    let free = x.select_columns(&columns);
    let solution = (free.transpose() * &free)
        .cholesky()?
        .solve(&(free.transpose() * rhs));
    let residuals = rhs - &free * solution;
    let degrees = (x.nrows() - columns.len()) as f64;
    Some((residuals.norm_squared() / degrees).max(f64::MIN_POSITIVE))
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

    /// NIST StRD Norris is in the fit room; here the prior's closed form:
    /// one reading y = c ± s, one prior 0 = c ± t gives c·t²/(t²+s²).
    #[test]
    fn a_prior_acts_like_one_more_observation() {
        let n = 200;
        let noise: Vec<f64> = (0..n)
            .map(|i| if i % 2 == 0 { 1.0 } else { -1.0 })
            .collect();
        let y: Vec<f64> = noise.iter().map(|e| 3.0 + e).collect();
        let ones = vec![1.0; n];
        let loose = regress(&[Term::free(ones.clone())], &y, &ones).expect("solves");
        assert!((loose.values[0] - 3.0).abs() < 1e-12);
        let half: Vec<f64> = (0..n).map(|i| if i < n / 2 { 1.0 } else { 0.0 }).collect();
        let tight = regress(
            &[Term::free(ones.clone()), Term::small(half, 1e-9)],
            &y,
            &ones,
        )
        .expect("solves");
        assert!(tight.values[1].abs() < 1e-6);
        assert!((tight.values[0] - 3.0).abs() < 1e-6);
    }

    #[test]
    fn autocorrelated_residuals_widen_the_error() {
        let n = 400;
        let ones = vec![1.0; n];
        let wave: Vec<f64> = (0..n).map(|i| (i as f64 / 20.0).sin()).collect();
        let r = regress(&[Term::free(ones.clone())], &wave, &ones).expect("solves");
        assert!(r.lag1 > 0.9);
        assert!(r.standard_errors[0] > 3.0 * 0.7 / (n as f64).sqrt());
    }
}
