//! Weighted linear regression.

use nalgebra::{DMatrix, DVector};

use super::check::{check, root_weights};
use super::least_squares::{LeastSquaresSolution, solve};
use super::outcome::{Fit, NoFit, Solved, Stop};

/// Whether a constant is fitted beside the regressors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Intercept {
    /// Fitted, and first among the values.
    Fitted,
    /// None: the model is zero where all regressors are zero.
    Zero,
}

/// A linear fit.
#[derive(Debug, Clone, PartialEq)]
pub struct LinearFit {
    /// Values (the intercept first, if fitted), errors and residuals.
    pub fit: Fit,
    /// Share of the sum of squares explained; about the mean with an
    /// intercept, about zero without. `NaN` when y does not vary.
    pub r_squared: f64,
    /// F of all regressors together.
    pub f: f64,
    /// Whether the first value is the intercept.
    pub intercept: Intercept,
}

/// Fit y = β₀ + β₁·x₁ + … by weighted least squares; one row of regressors per
/// point. A weight is 1/variance up to a common factor.
///
/// Any model linear in its parameters goes in here: put the functions of time,
/// temperature or height into the rows.
///
/// Regressors are centred (with an intercept) and scaled before the
/// orthogonal decomposition.
///
/// # Errors
/// [`NoFit`] when lengths differ, a number is not finite, points are too few,
/// or the data do not tell the parameters apart.
///
/// ```
/// use seep_report::analysis::fit::{Intercept, linear};
/// // ln(amount) against time and against temperature above 20 °C; invented.
/// let rows = [[0.0, 0.0], [1.0, -1.0], [2.0, 0.5], [3.0, -0.5], [4.0, 0.0]];
/// let y = [1.00, 0.91, 0.79, 0.71, 0.60];
/// let fit = linear(&rows, &y, None, Intercept::Fitted)?;
/// assert!((fit.fit.values[1] + 0.1).abs() < 0.01);
/// # Ok::<(), seep_report::analysis::fit::NoFit>(())
/// ```
pub fn linear<R: AsRef<[f64]>>(
    rows: &[R],
    y: &[f64],
    weights: Option<&[f64]>,
    intercept: Intercept,
) -> Result<LinearFit, NoFit> {
    let width = rows.first().map_or(0, |r| r.as_ref().len());
    let constant = usize::from(intercept == Intercept::Fitted);
    check(y, weights, rows.len(), width + constant)?;
    check_rows(rows, width)?;
    let roots = root_weights(weights, y.len());
    let centres = centres(rows, &roots, width, intercept);
    let design = DMatrix::from_fn(y.len(), width + constant, |i, j| {
        let x = if j < constant {
            1.0
        } else {
            rows[i].as_ref()[j - constant] - centres[j - constant]
        };
        x * roots[i]
    });
    let target = DVector::from_fn(y.len(), |i, _| y[i] * roots[i]);
    let centred = solve(design, &target)?;
    let solution = uncentred(centred, &centres, constant);
    let residuals: Vec<f64> = (0..y.len())
        .map(|i| {
            let row = std::iter::repeat_n(&1.0, constant).chain(rows[i].as_ref());
            let fitted: f64 = row
                .zip(solution.coefficients.iter())
                .map(|(x, b)| x * b)
                .sum();
            y[i] - fitted
        })
        .collect();
    let fit = Fit::new(Solved {
        values: solution.coefficients.as_slice().to_vec(),
        unscaled_covariance: solution.unscaled_covariance,
        residuals,
        root_weights: roots.clone(),
        stop: Stop::Direct,
    });
    let total = total_of_squares(y, &roots, intercept);
    Ok(LinearFit {
        r_squared: if varies(total, y, &roots) {
            1.0 - fit.rss / total
        } else {
            f64::NAN
        },
        f: (total - fit.rss) / width as f64 / fit.residual_sd.powi(2),
        fit,
        intercept,
    })
}

/// Fit the straight line y = β₀ + β₁·x.
///
/// # Errors
/// As [`linear`].
pub fn line(x: &[f64], y: &[f64], weights: Option<&[f64]>) -> Result<LinearFit, NoFit> {
    let rows: Vec<[f64; 1]> = x.iter().map(|x| [*x]).collect();
    linear(&rows, y, weights, Intercept::Fitted)
}

fn check_rows<R: AsRef<[f64]>>(rows: &[R], width: usize) -> Result<(), NoFit> {
    for (point, row) in rows.iter().enumerate() {
        let row = row.as_ref();
        if row.len() != width {
            return Err(NoFit::LengthsDiffer {
                points: width,
                other: row.len(),
            });
        }
        if row.iter().any(|v| !v.is_finite()) {
            return Err(NoFit::NotFinite { point });
        }
    }
    Ok(())
}

/// Weighted means of the regressors; zeros without an intercept.
fn centres<R: AsRef<[f64]>>(
    rows: &[R],
    roots: &[f64],
    width: usize,
    intercept: Intercept,
) -> Vec<f64> {
    if intercept == Intercept::Zero {
        return vec![0.0; width];
    }
    let total: f64 = roots.iter().map(|r| r * r).sum();
    (0..width)
        .map(|j| {
            let terms = rows.iter().zip(roots);
            terms.map(|(row, r)| row.as_ref()[j] * r * r).sum::<f64>() / total
        })
        .collect()
}

/// Go from y = γ₀ + Σ βⱼ(xⱼ − x̄ⱼ) to β₀ = γ₀ − Σ βⱼ·x̄ⱼ.
fn uncentred(
    centred: LeastSquaresSolution,
    centres: &[f64],
    constant: usize,
) -> LeastSquaresSolution {
    let mut back = DMatrix::identity(centres.len() + constant, centres.len() + constant);
    if constant == 1 {
        for (j, centre) in centres.iter().enumerate() {
            back[(0, j + 1)] = -centre;
        }
    }
    LeastSquaresSolution {
        coefficients: &back * centred.coefficients,
        unscaled_covariance: &back * centred.unscaled_covariance * back.transpose(),
    }
}

/// False when what is left of y around its mean is rounding only.
fn varies(total: f64, y: &[f64], roots: &[f64]) -> bool {
    let size: f64 = y.iter().zip(roots).map(|(y, r)| (y * r).powi(2)).sum();
    total > size * (4.0 * f64::EPSILON).powi(2)
}

fn total_of_squares(y: &[f64], roots: &[f64], intercept: Intercept) -> f64 {
    let weight: f64 = roots.iter().map(|r| r * r).sum();
    let centre = match intercept {
        Intercept::Fitted => y.iter().zip(roots).map(|(y, r)| y * r * r).sum::<f64>() / weight,
        Intercept::Zero => 0.0,
    };
    y.iter()
        .zip(roots)
        .map(|(y, r)| ((y - centre) * r).powi(2))
        .sum()
}

#[cfg(test)]
#[path = "linear_tests.rs"]
mod tests;
