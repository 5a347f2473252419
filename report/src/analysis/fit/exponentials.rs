//! Sums of exponential decays, with or without a constant.

use nalgebra::DMatrix;

use super::axis::Axis;
use super::check::{check, root_weights};
use super::separable::{Basis, separable};
use super::{Curve, Fit, NoFit, search};

/// Whether a constant is fitted beside the decays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Constant {
    /// Fitted, and last among the values.
    Fitted,
    /// None: everything decays to zero.
    Zero,
}

/// y = Σ aⱼ·exp(−kⱼ·t) \[+ c\] at given times, as a model for plots.
///
/// Parameters in the order a₁, k₁, a₂, k₂ … \[c\].
#[derive(Debug, Clone, PartialEq)]
pub struct Exponentials {
    /// Times, in the unit of 1/k.
    pub t: Vec<f64>,
    /// Number of decays.
    pub terms: usize,
}

impl Curve for Exponentials {
    fn predict(&self, parameters: &[f64], out: &mut [f64]) {
        let (decays, constant) = parameters.split_at(2 * self.terms);
        for (t, o) in self.t.iter().zip(out) {
            let sum: f64 = decays.chunks(2).map(|ak| ak[0] * (-ak[1] * t).exp()).sum();
            *o = sum + constant.iter().sum::<f64>();
        }
    }
}

/// Fit y = a·exp(−k·t). Values: a, k. No start values are needed; k may come
/// out below zero (growth).
///
/// **Units**: a and c those of y; k in 1/(unit of t); a is the value at t = 0.
/// Give t from the start of the record: with t counted from far away, a is
/// astronomic or nothing.
///
/// # Errors
/// As [`nonlinear`](super::nonlinear()).
///
/// ```
/// use seep_report::analysis::fit::decay;
/// let hours = [0.0, 2.0, 4.0, 8.0, 12.0];
/// let kpa_abs = [701.3, 574.2, 470.1, 315.1, 211.2];
/// let fit = decay(&hours, &kpa_abs, None)?;
/// assert!((fit.values[1] - 0.1).abs() < 1e-4);
/// # Ok::<(), seep_report::analysis::fit::NoFit>(())
/// ```
pub fn decay(t: &[f64], y: &[f64], weights: Option<&[f64]>) -> Result<Fit, NoFit> {
    let growing = search::rates()
        .into_iter()
        .filter(|r| *r <= 10.0)
        .map(|r| vec![-r]);
    let candidates: Vec<Vec<f64>> = search::combinations(&search::rates(), 1)
        .into_iter()
        .chain(growing)
        .collect();
    fit(t, y, weights, Constant::Zero, candidates)
}

/// Fit y = Σ aⱼ·exp(−kⱼ·t) \[+ c\] with one to three decays, the slowest
/// first. Values: a₁, k₁, a₂, k₂ … \[c\]. No start values are needed.
///
/// Two decays and a constant are the shape of a leak after the air has
/// settled. Decays whose rates the data do not tell apart come out with errors
/// as large as themselves, or as [`NoFit::NotIdentifiable`].
///
/// # Errors
/// As [`nonlinear`](super::nonlinear()).
///
/// # Panics
/// When `terms` is not 1, 2 or 3.
pub fn exponentials(
    t: &[f64],
    y: &[f64],
    weights: Option<&[f64]>,
    terms: usize,
    constant: Constant,
) -> Result<Fit, NoFit> {
    assert!((1..=3).contains(&terms), "one to three decays");
    let rates = search::rates();
    fit(t, y, weights, constant, search::combinations(&rates, terms))
}

fn fit(
    t: &[f64],
    y: &[f64],
    weights: Option<&[f64]>,
    constant: Constant,
    candidates: Vec<Vec<f64>>,
) -> Result<Fit, NoFit> {
    let terms = candidates.first().map_or(0, Vec::len);
    let parameters = 2 * terms + usize::from(constant == Constant::Fitted);
    check(y, weights, t.len(), parameters)?;
    let axis = Axis::of(t)?;
    let basis_of = |s: &[f64]| Decays {
        s: s.to_vec(),
        constant,
    };
    let roots = root_weights(weights, y.len());
    let starts = search::best(basis_of, &axis.s, y, &roots, candidates);
    let scaled = separable(&basis_of(&axis.s), y, weights, &starts)?;
    Ok(in_user_units(&scaled, terms, &axis))
}

/// From coefficients and rates on the scaled axis to a₁, k₁ … in the units
/// given, slowest first: k = κ/span, a = a′·exp(κ·start/span).
fn in_user_units(scaled: &Fit, terms: usize, axis: &Axis) -> Fit {
    let parameters = scaled.values.len();
    let functions = parameters - terms;
    let mut order: Vec<usize> = (0..terms).collect();
    order.sort_by(|a, b| scaled.values[functions + a].total_cmp(&scaled.values[functions + b]));
    let shift = axis.start / axis.span;
    let mut values = Vec::with_capacity(parameters);
    let mut gradient = DMatrix::zeros(parameters, parameters);
    for (row, j) in order.into_iter().enumerate() {
        let kappa = scaled.values[functions + j];
        let growth = (kappa * shift).exp();
        let a = scaled.values[j] * growth;
        gradient[(2 * row, j)] = growth;
        gradient[(2 * row, functions + j)] = a * shift;
        gradient[(2 * row + 1, functions + j)] = 1.0 / axis.span;
        values.extend([a, kappa / axis.span]);
    }
    if functions > terms {
        gradient[(2 * terms, terms)] = 1.0;
        values.push(scaled.values[terms]);
    }
    scaled.transformed(values, &gradient)
}

/// exp(−κ·s) for each rate, then 1.
struct Decays {
    s: Vec<f64>,
    constant: Constant,
}

impl Basis for Decays {
    fn functions(&self, shapes: &[f64]) -> DMatrix<f64> {
        let width = shapes.len() + usize::from(self.constant == Constant::Fitted);
        DMatrix::from_fn(self.s.len(), width, |i, j| {
            shapes.get(j).map_or(1.0, |k| (-k * self.s[i]).exp())
        })
    }

    fn derivatives(&self, shapes: &[f64], shape: usize) -> DMatrix<f64> {
        let width = shapes.len() + usize::from(self.constant == Constant::Fitted);
        DMatrix::from_fn(self.s.len(), width, |i, j| {
            if j == shape {
                -self.s[i] * (-shapes[j] * self.s[i]).exp()
            } else {
                0.0
            }
        })
    }
}
