//! Reduction of one rest: whitening and the Gram matrix of its columns.
//!
//! With `R = L Lᵀ`, `M = [1, X, Z, y]` and `G = (L⁻¹M)ᵀ(L⁻¹M)`, the free start value
//! is eliminated by one step of Gauss. What remains is all that the model needs to
//! know about the rest.

use nalgebra::DMatrix;

use super::columns::{Columns, SharedKey, Target};
use super::covariance::{RestCovariance, add_leak_shape};
use super::hypothesis::Hypothesis;
use super::linear::{Factor, add_outer};

/// Information of one rest about its parameters.
#[derive(Clone)]
pub(super) struct RestGram {
    /// Indices of the global parameters.
    pub(super) parameters: Vec<usize>,
    pub(super) shared: Vec<SharedKey>,
    /// Place of the volume's own leak among the parameters.
    pub(super) leak: usize,
    /// Lower triangle by rows: parameters, shared errors, readings.
    packed: Vec<f64>,
}

impl RestGram {
    /// Whitens the columns with `R₀ + f² W` and the error of a leak's shape.
    /// `parameters` are the indices of the persistent columns. `None` where the
    /// covariance is not positive definite: readings are not finite.
    pub(super) fn new(
        columns: &Columns<'_>,
        covariance: &RestCovariance,
        parameters: &[usize],
        f: f64,
        c0: f64,
    ) -> Option<Self> {
        let mut r = covariance.at(f);
        add_leak_shape(&mut r, columns, c0);
        let factor = Factor::new(r)?;
        let mut m = rows(columns);
        factor.whiten_rows(&mut m);
        let mut lower = DMatrix::zeros(m.nrows(), m.nrows());
        add_outer(&mut lower, 0, 1.0, &m);
        Some(Self {
            parameters: parameters.to_vec(),
            shared: columns.shared.iter().map(|s| s.0).collect(),
            leak: leak_place(columns)?,
            packed: without_start(&lower),
        })
    }

    /// Number of parameters and shared errors.
    pub(super) fn width(&self) -> usize {
        self.parameters.len() + self.shared.len()
    }

    /// Entry of the Gram matrix, `i ≥ j`; index [`Self::width`] is the reading.
    pub(super) fn at(&self, i: usize, j: usize) -> f64 {
        let (i, j) = if i >= j { (i, j) } else { (j, i) };
        self.packed[i * (i + 1) / 2 + j]
    }

    /// Returns row i of the lower triangle.
    pub(super) fn row(&self, i: usize) -> &[f64] {
        let from = i * (i + 1) / 2;
        &self.packed[from..=from + i]
    }
}

/// `[1, X, Z, y − X·mean]` as rows, one column per mean of the rest.
fn rows(columns: &Columns<'_>) -> DMatrix<f64> {
    let n = columns.len();
    let (p, s) = (columns.persistent.len(), columns.shared.len());
    let k = p + s + 2;
    let mut y = columns.y.clone();
    for (target, column) in &columns.persistent {
        if let Target::Error { mean, .. } = target
            && *mean != 0.0
        {
            y.iter_mut().zip(column).for_each(|(y, x)| *y -= mean * x);
        }
    }
    let mut values = Vec::with_capacity(k * n);
    for (i, y) in y.iter().enumerate() {
        values.push(1.0);
        values.extend(columns.persistent.iter().map(|c| c.1[i]));
        values.extend(columns.shared.iter().map(|c| c.1[i]));
        values.push(*y);
    }
    DMatrix::from_vec(k, n, values)
}

fn leak_place(columns: &Columns<'_>) -> Option<usize> {
    columns.persistent.iter().position(|(target, _)| {
        matches!(target, Target::Hypothesis(i)
            if matches!(columns.plan.hypotheses[*i], Hypothesis::Leak { .. }))
    })
}

/// Eliminates the first row and column; lower triangle by rows.
fn without_start(lower: &DMatrix<f64>) -> Vec<f64> {
    let k = lower.nrows();
    let start = lower[(0, 0)];
    let mut packed = Vec::with_capacity(k * (k - 1) / 2);
    for i in 1..k {
        let ratio = lower[(i, 0)] / start;
        packed.extend((1..=i).map(|j| lower[(i, j)] - ratio * lower[(j, 0)]));
    }
    packed
}
