//! Least squares with terms that are known beforehand to be small.

use super::fit::unbiased_lag1;
use super::scaled_priors::{Normal, average};
use super::stats::effective_sample_size;
use nalgebra::{DMatrix, DVector};
use std::cell::OnceCell;

/// One term of the model.
#[derive(Debug, Clone)]
pub(crate) struct Term {
    /// Its value at each reading.
    pub column: Vec<f64>,
    /// Known size of its coefficient (mean 0), one standard deviation; `None`: free.
    pub prior_sd: Option<f64>,
    /// Index of the family whose size is known only up to a common factor.
    pub family: Option<usize>,
}

impl Term {
    pub(crate) fn free(column: Vec<f64>) -> Self {
        Term {
            column,
            prior_sd: None,
            family: None,
        }
    }

    pub(crate) fn small(column: Vec<f64>, prior_sd: f64) -> Self {
        Term {
            column,
            prior_sd: Some(prior_sd),
            family: None,
        }
    }

    /// What one standard deviation of its coefficient does to each reading;
    /// for a free one, one unit.
    pub(crate) fn one_sd(&self) -> Vec<f64> {
        let sd = self.prior_sd.unwrap_or(1.0);
        self.column.iter().map(|c| c * sd).collect()
    }

    /// One of a family of terms.
    pub(crate) fn of_family(self, family: usize) -> Self {
        Term {
            family: Some(family),
            ..self
        }
    }
}

/// Result of a regression.
#[derive(Debug, Clone)]
pub(crate) struct Regression {
    pub values: Vec<f64>,
    /// Standard errors, widened for autocorrelated residuals.
    pub standard_errors: Vec<f64>,
    /// Independent readings less parameters, terms with a prior counted by
    /// what the data say of them.
    pub degrees_of_freedom: f64,
    /// Autocorrelation of neighbouring residuals.
    pub lag1: f64,
    /// Sum of squares, what the priors are off included.
    pub squares: f64,
    /// Independent readings.
    pub worth: f64,
    response: Response,
    /// Coefficients per standard deviation of the middle of each prior.
    by_prior: DMatrix<f64>,
}

/// What coefficients are of readings: `A⁻¹·Xᵀ·√w`, multiplied out when asked for.
#[derive(Debug, Clone)]
struct Response {
    /// Weighted terms of unit size, one row per reading.
    x: DMatrix<f64>,
    root_weights: Vec<f64>,
    /// Sizes that the terms were divided by.
    scale: Vec<f64>,
    inverse: DMatrix<f64>,
    product: OnceCell<DMatrix<f64>>,
}

impl Response {
    /// A reading's part in a coefficient.
    fn at(&self, coefficient: usize, reading: usize) -> f64 {
        let product = self
            .product
            .get_or_init(|| &self.inverse * self.x.transpose());
        product[(coefficient, reading)] * self.root_weights[reading] / self.scale[coefficient]
    }
}

impl Regression {
    /// What a coefficient changes by per unit of each reading.
    pub(crate) fn weights(&self, coefficient: usize) -> Vec<f64> {
        let readings = 0..self.response.root_weights.len();
        readings.map(|i| self.response.at(coefficient, i)).collect()
    }

    /// What a coefficient is off by when the middle of a term's prior is one
    /// standard deviation above zero; never more than its standard error.
    pub(crate) fn off_by_prior(&self, coefficient: usize, term: usize) -> f64 {
        -self.by_prior[(coefficient, term)]
    }

    /// What a coefficient would change by if `column` were added to the readings.
    pub(crate) fn change(&self, coefficient: usize, column: &[f64]) -> f64 {
        (0..column.len())
            .map(|i| self.response.at(coefficient, i) * column[i])
            .sum()
    }
}

/// Rounds in which residual variance and autocorrelation are found.
const ROUNDS: usize = 5;

/// How far neighbouring readings repeat each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Neighbours {
    /// Separate events (runs, moves, rests): by the autocorrelation as it is.
    Events,
    /// One slowly changing quantity: by the autocorrelation without its bias
    /// towards none.
    Series,
}

/// [`regress_series`] for readings of separate events.
pub(crate) fn regress(terms: &[Term], y: &[f64], weights: &[f64]) -> Option<Regression> {
    solve(terms, y, weights, 0.0, &[], Neighbours::Events)
}

/// [`regress`] for readings whose variances are known: they are never smaller.
pub(crate) fn regress_known(terms: &[Term], y: &[f64], variances: &[f64]) -> Option<Regression> {
    let weights: Vec<f64> = variances.iter().map(|v| 1.0 / v).collect();
    solve(terms, y, &weights, 1.0, &[], Neighbours::Events)
}

/// `y = Σ cᵢ·termᵢ + noise`, coefficients with a prior pulled to zero by it.
///
/// A prior of standard deviation s on a coefficient equals one extra
/// observation `0 = c ± s`; the residual variance is iterated, since the extra
/// observation is weighed against it. Residuals of slowly changing quantities
/// resemble their neighbours: with lag-1 autocorrelation r the n readings are
/// worth n·(1−r)/(1+r), which goes into the variance, the weight of the
/// priors and the degrees of freedom. `floor` is a variance that no reading
/// goes below, that of its counts. The sizes of a family of terms are tried at
/// the factors of `families` and averaged by what the readings say of them, so
/// that what does not show in a quiet log costs nothing there.
///
/// **Source**: generalised least squares with prior information (Theil and
/// Goldberger 1961, from memory); effective sample size of an AR(1) series
/// (Santer et al. 2000, from memory).
pub(crate) fn regress_series(
    terms: &[Term],
    y: &[f64],
    weights: &[f64],
    floor: f64,
    families: &[&[f64]],
) -> Option<Regression> {
    solve(terms, y, weights, floor, families, Neighbours::Series)
}

fn solve(
    terms: &[Term],
    y: &[f64],
    weights: &[f64],
    floor: f64,
    families: &[&[f64]],
    neighbours: Neighbours,
) -> Option<Regression> {
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
    let root_weights: Vec<f64> = weights.iter().map(|w| w.sqrt()).collect();
    let x = DMatrix::from_fn(n, p, |i, j| terms[j].column[i] / scale[j] * root_weights[i]);
    let rhs = DVector::from_fn(n, |i, _| y[i] * root_weights[i]);
    let precisions: Vec<f64> = terms
        .iter()
        .zip(&scale)
        .map(|(t, s)| t.prior_sd.map_or(0.0, |sd| (sd * s).powi(-2)))
        .collect();
    // Noise is judged with every family at its largest, so that nothing else
    // is taken for it.
    let largest = |t: &Term| {
        let factors = t.family.map_or(&[1.0][..], |f| families[f]);
        factors.iter().copied().fold(f64::MIN, f64::max)
    };
    let widest: Vec<f64> = terms
        .iter()
        .zip(&precisions)
        .map(|(t, p)| p / largest(t).powi(2))
        .collect();
    let variance = start_variance(&x, &rhs, terms)?.max(floor);
    let mut normal = Normal::of(&x, &rhs, variance);
    let mut solved = None;
    for _ in 0..ROUNDS {
        let round = Round::solve(&x, &rhs, &normal, &widest, neighbours)?;
        normal.variance = round.variance().max(floor).max(f64::MIN_POSITIVE);
        solved = Some(round);
    }
    let round = solved?;
    let of_family: Vec<Option<usize>> = terms.iter().map(|t| t.family).collect();
    let mean = average(&normal, &precisions, &of_family, families)?;
    let used = (&mean.inverse * &normal.xtx).trace();
    Some(Regression {
        values: (0..p).map(|j| mean.values[j] / scale[j]).collect(),
        standard_errors: (0..p)
            .map(|j| mean.variances[j].sqrt() / scale[j])
            .collect(),
        degrees_of_freedom: (round.worth - used).max(1.0),
        lag1: round.lag1,
        squares: mean.squares,
        worth: round.worth,
        by_prior: DMatrix::from_fn(p, p, |i, j| mean.by_prior[(i, j)] / scale[i]),
        response: Response {
            x,
            root_weights,
            scale,
            inverse: mean.inverse,
            product: OnceCell::new(),
        },
    })
}

/// One solution at the variance of the normal equations.
struct Round {
    rss: f64,
    lag1: f64,
    /// Independent readings.
    worth: f64,
    /// Parameters, those with a prior in part.
    used: f64,
}

impl Round {
    fn solve(
        x: &DMatrix<f64>,
        rhs: &DVector<f64>,
        normal: &Normal,
        precisions: &[f64],
        neighbours: Neighbours,
    ) -> Option<Round> {
        let inverse = normal.with(precisions).cholesky()?.inverse();
        let values = &inverse * &normal.xty;
        let residuals = rhs - x * &values;
        let used = (&inverse * &normal.xtx).trace();
        let n = x.nrows();
        let lag1 = lag1(residuals.as_slice());
        Some(Round {
            worth: match neighbours {
                Neighbours::Events => effective_sample_size(n, lag1),
                Neighbours::Series => effective_sample_size(n, unbiased_lag1(lag1, n, used)),
            },
            rss: residuals.norm_squared(),
            lag1,
            used,
        })
    }

    fn degrees(&self) -> f64 {
        (self.worth - self.used).max(1.0)
    }

    fn variance(&self) -> f64 {
        self.rss / self.degrees()
    }
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
