//! Models that are linear in most of their parameters.
//!
//! y = Σ cⱼ·φⱼ(shapes): only the few *shapes* need a search, the coefficients
//! follow from them by linear least squares (variable projection). Far less
//! depends on the start than when all parameters are searched.

use nalgebra::{DMatrix, DVector};
use varpro::prelude::SeparableNonlinearModel;
use varpro::problem::SeparableProblemBuilder;
use varpro::solvers::levmar::LevMarSolver;

use super::check::{check, root_weights};
use super::least_squares::solve;
use super::{Curve, Fit, NoFit, nonlinear};

/// The functions of a separable model.
pub trait Basis {
    /// The functions at these shapes: one row per observation, one column per
    /// function.
    fn functions(&self, shapes: &[f64]) -> DMatrix<f64>;

    /// Derivatives of the functions against one shape.
    fn derivatives(&self, shapes: &[f64], shape: usize) -> DMatrix<f64>;
}

/// Fit a separable model from each of the given starts of its shapes; the
/// lowest sum of squares wins. The values are the coefficients, then the
/// shapes.
///
/// **Source**: Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413 (cited from
/// memory), as carried out by the crate varpro.
///
/// # Errors
/// As [`nonlinear`].
pub fn separable<S: AsRef<[f64]>>(
    basis: &impl Basis,
    y: &[f64],
    weights: Option<&[f64]>,
    starts: &[S],
) -> Result<Fit, NoFit> {
    let first = starts.first().map(AsRef::as_ref).unwrap_or_default();
    let functions = basis.functions(first).ncols();
    check(y, weights, y.len(), functions + first.len())?;
    let roots = root_weights(weights, y.len());
    let full: Vec<Vec<f64>> = starts
        .iter()
        .flat_map(|start| {
            [
                start.as_ref().to_vec(),
                project(basis, y, &roots, start.as_ref()),
            ]
        })
        .filter_map(|shapes| {
            let mut all = coefficients(basis, y, &roots, &shapes)?.0;
            all.extend(shapes);
            Some(all)
        })
        .collect();
    if full.is_empty() {
        return Err(NoFit::NotIdentifiable {
            parameters: (0..functions).collect(),
        });
    }
    nonlinear(&Whole { basis, functions }, y, weights, &full)
}

/// Best coefficients at these shapes and the weighted sum of squares left;
/// `None` when the functions have no value or cannot be told apart.
pub(super) fn coefficients(
    basis: &impl Basis,
    y: &[f64],
    roots: &[f64],
    shapes: &[f64],
) -> Option<(Vec<f64>, f64)> {
    let design = weighted(basis.functions(shapes), roots);
    if design.iter().any(|d| !d.is_finite()) {
        return None;
    }
    let target = DVector::from_fn(y.len(), |i, _| y[i] * roots[i]);
    let c = solve(design.clone(), &target).ok()?.coefficients;
    let rss = (target - design * &c).norm_squared();
    Some((c.as_slice().to_vec(), rss))
}

fn weighted(mut functions: DMatrix<f64>, roots: &[f64]) -> DMatrix<f64> {
    for (mut row, root) in functions.row_iter_mut().zip(roots) {
        row *= *root;
    }
    functions
}

/// Improve the shapes by variable projection. Gives back what it reached,
/// converged or not: the fit of all parameters goes on from there.
fn project(basis: &impl Basis, y: &[f64], roots: &[f64], start: &[f64]) -> Vec<f64> {
    let target = DVector::from_fn(y.len(), |i, _| y[i] * roots[i]);
    let projected = Projected {
        basis,
        roots,
        shapes: DVector::from_column_slice(start),
    };
    let Ok(problem) = SeparableProblemBuilder::new(projected)
        .observations(target)
        .build()
    else {
        return start.to_vec();
    };
    let result = LevMarSolver::default()
        .solve(problem)
        .unwrap_or_else(|unfinished| unfinished);
    result.nonlinear_parameters().as_slice().to_vec()
}

/// The functions, weighted, as the crate varpro asks for them.
struct Projected<'a, B: Basis> {
    basis: &'a B,
    roots: &'a [f64],
    shapes: DVector<f64>,
}

/// The functions have no value at these shapes.
#[derive(Debug, thiserror::Error)]
#[error("a function of the model is not finite")]
struct NotFinite;

impl<B: Basis> Projected<'_, B> {
    fn finite(&self, functions: DMatrix<f64>) -> Result<DMatrix<f64>, NotFinite> {
        let functions = weighted(functions, self.roots);
        if functions.iter().all(|f| f.is_finite()) {
            Ok(functions)
        } else {
            Err(NotFinite)
        }
    }
}

impl<B: Basis> SeparableNonlinearModel for Projected<'_, B> {
    type ScalarType = f64;
    type Error = NotFinite;

    fn parameter_count(&self) -> usize {
        self.shapes.len()
    }

    fn base_function_count(&self) -> usize {
        self.basis.functions(self.shapes.as_slice()).ncols()
    }

    fn output_len(&self) -> usize {
        self.roots.len()
    }

    fn set_params(&mut self, parameters: DVector<f64>) -> Result<(), NotFinite> {
        self.shapes = parameters;
        Ok(())
    }

    fn params(&self) -> DVector<f64> {
        self.shapes.clone()
    }

    fn eval(&self) -> Result<DMatrix<f64>, NotFinite> {
        self.finite(self.basis.functions(self.shapes.as_slice()))
    }

    fn eval_partial_deriv(&self, shape: usize) -> Result<DMatrix<f64>, NotFinite> {
        self.finite(self.basis.derivatives(self.shapes.as_slice(), shape))
    }
}

/// The whole model: coefficients, then shapes.
struct Whole<'a, B: Basis> {
    basis: &'a B,
    functions: usize,
}

impl<B: Basis> Curve for Whole<'_, B> {
    fn predict(&self, parameters: &[f64], out: &mut [f64]) {
        let (c, shapes) = parameters.split_at(self.functions);
        let y = self.basis.functions(shapes) * DVector::from_column_slice(c);
        out.copy_from_slice(y.as_slice());
    }

    fn derive(&self, parameters: &[f64], out: &mut DMatrix<f64>) {
        let (c, shapes) = parameters.split_at(self.functions);
        let c = DVector::from_column_slice(c);
        out.columns_mut(0, self.functions)
            .copy_from(&self.basis.functions(shapes));
        for shape in 0..shapes.len() {
            let column = self.basis.derivatives(shapes, shape) * &c;
            out.set_column(self.functions + shape, &column);
        }
    }
}
