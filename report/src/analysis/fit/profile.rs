//! Intervals from the shape of the sum of squares instead of its curvature.

use super::check::{check, root_weights};
use super::nonlinear::lowest;
use super::{Curve, Fit, NoFit};
use crate::analysis::stats::Interval;
use nalgebra::DMatrix;

/// Doublings of the distance after which a side is called open: a million
/// standard errors.
const DOUBLINGS: u32 = 24;

/// First distance from the value, in standard errors.
const FIRST_DISTANCE: f64 = 0.25;

/// Halvings of the last distance.
const HALVINGS: u32 = 50;

/// Interval of one parameter by profile likelihood: all values at which the
/// other parameters can still bring the sum of squares below
/// `rss + t²·residual_sd²`.
///
/// Right where [`Fit::interval`] is not: few points, a record that covers
/// little of the decay, a parameter near a limit. An end is infinite when the
/// sum of squares never rises that far, which says that the data give no limit
/// on that side. Hand over a fit from [`Fit::allowing_for_autocorrelation`] to
/// allow for it here too.
///
/// The fit must be of the same curve, observations and weights. Continuous
/// stretches are assumed; a second minimum beyond a ridge is not looked for.
///
/// **Source**: Bates and Watts, *Nonlinear Regression Analysis* (1988), ch. 6.
///
/// # Errors
/// [`NoFit`] when the data do not belong to the fit.
///
/// # Panics
/// When there is no such parameter.
///
/// ```
/// use seep_report::analysis::fit::{nonlinear, profile_interval};
/// // Biochemical oxygen demand, Bates and Watts: six points, curved.
/// let (x, y) = ([1.0, 2.0, 3.0, 5.0, 7.0, 10.0], [109.0, 149.0, 149.0, 191.0, 213.0, 224.0]);
/// let model = |p: &[f64], out: &mut [f64]| {
///     for (x, o) in x.iter().zip(out) {
///         *o = p[0] * (1.0 - (-p[1] * x).exp());
///     }
/// };
/// let fit = nonlinear(&model, &y, None, &[&[100.0, 0.75]])?;
/// let rate = profile_interval(&model, &y, None, &fit, 1, 0.95)?;
/// // from the curvature: 0.257 to 0.838
/// assert!((rate.low - 0.3026).abs() < 1e-4 && (rate.high - 1.0731).abs() < 1e-4);
/// # Ok::<(), seep_report::analysis::fit::NoFit>(())
/// ```
pub fn profile_interval(
    curve: &impl Curve,
    y: &[f64],
    weights: Option<&[f64]>,
    fit: &Fit,
    parameter: usize,
    level: f64,
) -> Result<Interval, NoFit> {
    check(y, weights, fit.residuals.len(), fit.values.len())?;
    let search = Search {
        curve,
        y,
        roots: root_weights(weights, y.len()),
        fit,
        parameter,
        limit: fit.rss + (fit.t(level) * fit.residual_sd).powi(2),
    };
    Ok(Interval {
        low: search.end(-1.0),
        high: search.end(1.0),
        level,
    })
}

struct Search<'a, C: Curve> {
    curve: &'a C,
    y: &'a [f64],
    roots: Vec<f64>,
    fit: &'a Fit,
    parameter: usize,
    limit: f64,
}

impl<C: Curve> Search<'_, C> {
    /// Where the profile crosses the limit on one side.
    fn end(&self, side: f64) -> f64 {
        let value = self.fit.values[self.parameter];
        if !self.limit.is_finite() {
            return side * f64::INFINITY;
        }
        let error = self.fit.standard_errors[self.parameter];
        if error <= 0.0 {
            // A perfect fit: nothing to follow.
            return value;
        }
        let mut distance = FIRST_DISTANCE * error;
        let mut others = self.others();
        let mut inside = value;
        for _ in 0..DOUBLINGS {
            let outside = value + side * distance;
            match self.profile(outside, &others) {
                Some((found, rss)) if rss <= self.limit => {
                    (inside, others) = (outside, found);
                    distance *= 2.0;
                }
                _ => return self.between(inside, outside, others),
            }
        }
        side * f64::INFINITY
    }

    /// Halve the way between a value inside the limit and one outside. Outside
    /// the model's domain counts as outside.
    fn between(&self, mut inside: f64, mut outside: f64, mut others: Vec<f64>) -> f64 {
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(inside, outside);
            match self.profile(middle, &others) {
                Some((found, rss)) if rss <= self.limit => (inside, others) = (middle, found),
                _ => outside = middle,
            }
        }
        f64::midpoint(inside, outside)
    }

    /// All values but that of the parameter.
    fn others(&self) -> Vec<f64> {
        let mut others = self.fit.values.clone();
        others.remove(self.parameter);
        others
    }

    /// Best other values and sum of squares with the parameter held.
    fn profile(&self, at: f64, others: &[f64]) -> Option<(Vec<f64>, f64)> {
        let held = Held {
            curve: self.curve,
            parameter: self.parameter,
            at,
        };
        if others.is_empty() {
            let mut out = vec![0.0; self.y.len()];
            held.predict(&[], &mut out);
            let terms = out.iter().zip(self.y).zip(&self.roots);
            let rss: f64 = terms.map(|((o, y), w)| (w * (y - o)).powi(2)).sum();
            return rss.is_finite().then_some((Vec::new(), rss));
        }
        let starts = [others.to_vec(), self.others()];
        lowest(&held, self.y, &self.roots, &starts)
    }
}

/// A curve with one parameter held.
struct Held<'a, C: Curve> {
    curve: &'a C,
    parameter: usize,
    at: f64,
}

impl<C: Curve> Held<'_, C> {
    fn all(&self, others: &[f64]) -> Vec<f64> {
        let mut all = others.to_vec();
        all.insert(self.parameter, self.at);
        all
    }
}

impl<C: Curve> Curve for Held<'_, C> {
    fn predict(&self, others: &[f64], out: &mut [f64]) {
        self.curve.predict(&self.all(others), out);
    }

    fn derive(&self, others: &[f64], out: &mut DMatrix<f64>) {
        let mut full = DMatrix::zeros(out.nrows(), out.ncols() + 1);
        self.curve.derive(&self.all(others), &mut full);
        out.copy_from(&full.remove_column(self.parameter));
    }
}

#[cfg(test)]
#[path = "profile_tests.rs"]
mod tests;
