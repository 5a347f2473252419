//! Nonlinear least squares by the method of Levenberg and Marquardt.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt, TerminationReason};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};

use super::Curve;
use super::check::{check, root_weights};
use super::least_squares::solve;
use super::outcome::{Fit, NoFit, Solved, Stop};

/// Evaluations allowed per parameter and start.
const PATIENCE: usize = 500;

/// Residual put where the model has no value: large enough that the step is
/// refused, small enough that its square is a number.
const REFUSED: f64 = 1e100;

/// Steps of the last refinement.
const LAST_STEPS: usize = 8;

/// Fit a model with any parameters, from each of the given starts; the lowest
/// sum of squares wins.
///
/// The solver finds the minimum in whose basin a start lies: give more than one
/// start where there may be several. A start outside the model's domain is
/// passed over. A weight is 1/variance up to a common factor.
///
/// # Errors
/// [`NoFit`]; among others when all starts fail or the data do not tell the
/// parameters apart at the minimum.
///
/// ```
/// use seep_report::analysis::fit::nonlinear;
/// let t = [0.0, 1.0, 2.0, 3.0, 4.0];
/// let y = [2.01, 1.21, 0.74, 0.45, 0.27];
/// let model = |p: &[f64], out: &mut [f64]| {
///     for (t, o) in t.iter().zip(out) {
///         *o = p[0] * (-p[1] * t).exp();
///     }
/// };
/// let fit = nonlinear(&model, &y, None, &[&[1.0, 1.0]])?;
/// assert!((fit.values[1] - 0.5).abs() < 0.01);
/// # Ok::<(), seep_report::analysis::fit::NoFit>(())
/// ```
pub fn nonlinear<S: AsRef<[f64]>>(
    curve: &impl Curve,
    y: &[f64],
    weights: Option<&[f64]>,
    starts: &[S],
) -> Result<Fit, NoFit> {
    let parameters = starts.first().map_or(0, |s| s.as_ref().len());
    check(y, weights, y.len(), parameters)?;
    let roots = root_weights(weights, y.len());
    let problem = |start: &[f64]| Problem {
        curve,
        y,
        roots: &roots,
        parameters: DVector::from_column_slice(start),
    };
    let best = starts
        .iter()
        .filter_map(|start| minimize(problem(start.as_ref())))
        .min_by(|a, b| a.0.rss().total_cmp(&b.0.rss()));
    let Some((best, stop)) = best else {
        return Err(NoFit::BadStart {
            start: starts
                .iter()
                .map(|s| format!("{:?}", s.as_ref()))
                .collect::<Vec<_>>()
                .join(", "),
        });
    };
    finish(best, stop)
}

struct Problem<'a, C: Curve> {
    curve: &'a C,
    y: &'a [f64],
    roots: &'a [f64],
    parameters: DVector<f64>,
}

impl<C: Curve> Problem<'_, C> {
    fn misses(&self) -> Vec<f64> {
        let mut out = vec![0.0; self.y.len()];
        self.curve.predict(self.parameters.as_slice(), &mut out);
        out.iter().zip(self.y).map(|(o, y)| y - o).collect()
    }

    /// Weighted, predicted less observed.
    fn weighted(&self) -> DVector<f64> {
        let misses = self.misses();
        DVector::from_fn(self.y.len(), |i, _| -misses[i] * self.roots[i])
    }

    fn rss(&self) -> f64 {
        self.weighted().norm_squared()
    }

    fn design(&self) -> DMatrix<f64> {
        let mut out = DMatrix::zeros(self.y.len(), self.parameters.len());
        self.curve.derive(self.parameters.as_slice(), &mut out);
        for (mut row, root) in out.row_iter_mut().zip(self.roots) {
            row *= *root;
        }
        out
    }
}

impl<C: Curve> LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_, C> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        self.parameters.copy_from(x);
    }

    fn params(&self) -> DVector<f64> {
        self.parameters.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let sane = |r: f64| if r.abs() < REFUSED { r } else { REFUSED };
        Some(self.weighted().map(sane))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let design = self.design();
        design.iter().all(|d| d.is_finite()).then_some(design)
    }
}

/// Minimise from one start; `None` when the model has no value there.
fn minimize<C: Curve>(start: Problem<C>) -> Option<(Problem<C>, Stop)> {
    if !start.rss().is_finite() {
        return None;
    }
    let (end, report) = LevenbergMarquardt::new()
        .with_patience(PATIENCE)
        .minimize(start);
    let stop = match report.termination {
        TerminationReason::ResidualsZero
        | TerminationReason::Orthogonal
        | TerminationReason::Converged { .. } => Stop::Converged,
        TerminationReason::NoImprovementPossible(_) => Stop::NoFurtherImprovement,
        TerminationReason::LostPatience => Stop::OutOfPatience,
        TerminationReason::User(_)
        | TerminationReason::Numerical(_)
        | TerminationReason::NoParameters
        | TerminationReason::NoResiduals
        | TerminationReason::WrongDimensions(_) => return None,
    };
    end.rss().is_finite().then_some((end, stop))
}

/// Make the last digits right and compute the errors.
///
/// Levenberg–Marquardt stops when the sum of squares no longer changes, which
/// it does not to first order near the minimum: half the digits of the
/// parameters are still open. Plain Gauss–Newton steps close them, for as long
/// as each is shorter than the one before.
fn finish<C: Curve>(mut best: Problem<C>, stop: Stop) -> Result<Fit, NoFit> {
    let (mut solution, mut length) = (solve(best.design(), &-best.weighted())?, f64::INFINITY);
    for _ in 0..LAST_STEPS {
        let step = &solution.coefficients;
        // Length in units of the standard errors, up to a factor.
        let new_length: f64 = step
            .iter()
            .zip(solution.unscaled_covariance.diagonal().iter())
            .map(|(s, v)| s * s / v)
            .sum();
        let before = best.parameters.clone();
        let rss = best.rss();
        best.parameters += step;
        let worse = best.rss() > rss * (1.0 + 1e-10) || !best.rss().is_finite();
        let next = solve(best.design(), &-best.weighted());
        let (true, Ok(next)) = (new_length < 0.5 * length && !worse, next) else {
            best.parameters = before;
            break;
        };
        (solution, length) = (next, new_length);
    }
    Ok(Fit::new(Solved {
        values: best.parameters.as_slice().to_vec(),
        unscaled_covariance: solution.unscaled_covariance,
        residuals: best.misses(),
        root_weights: best.roots.to_vec(),
        stop,
    }))
}

#[cfg(test)]
#[path = "nonlinear_tests.rs"]
mod tests;
