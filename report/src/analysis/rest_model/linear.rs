//! Dense linear algebra of the model.
//!
//! nalgebra, which the report stands on already. Measured on the sizes that occur
//! (release, one core): Cholesky of 56×56 19 µs (faer 31), Gram matrix 60×56 24 µs
//! (faer 31), Cholesky of 170×170 510 µs (faer 140). faer would add 28 crates and a
//! doubled `equator` for the last figure, which is a small share of the whole; the
//! blocked factorisation here takes back most of it with nalgebra's own product.

use nalgebra::{DMatrix, DMatrixView, DVector, Dyn};
use std::ops::Range;

/// Width of a block: the product of blocks outweighs the columns within.
const BLOCK: usize = 24;

/// Width of a strip of a symmetric product.
const STRIP: usize = 32;

/// A product over no more than this is worked out column by column.
const NARROW: usize = 8;

/// Lower Cholesky factor of a symmetric positive definite matrix, of which only the
/// lower triangle is read.
pub(super) struct Factor {
    lower: DMatrix<f64>,
}

impl Factor {
    /// Factorises. `None` where the matrix is not positive definite or not finite.
    pub(super) fn new(mut a: DMatrix<f64>) -> Option<Self> {
        let n = a.nrows();
        let mut from = 0;
        while from < n {
            let to = (from + BLOCK).min(n);
            factor_diagonal(&mut a, from, to)?;
            if to < n {
                solve_below(&mut a, from, to);
                update_rest(&mut a, from, to);
            }
            from = to;
        }
        Some(Self { lower: a })
    }

    /// Half of the natural logarithm of the determinant of the factorised matrix.
    pub(super) fn half_ln_determinant(&self) -> f64 {
        (0..self.lower.nrows())
            .map(|i| self.lower[(i, i)].ln())
            .sum()
    }

    /// Solves `L z = b` in place.
    pub(super) fn forward(&self, b: &mut DVector<f64>) {
        let n = self.lower.nrows();
        let b = b.as_mut_slice();
        for j in 0..n {
            let column = &self.lower.as_slice()[j * n..(j + 1) * n];
            let z = b[j] / column[j];
            b[j] = z;
            for i in j + 1..n {
                b[i] -= z * column[i];
            }
        }
    }

    /// Solves `Lᵀ x = z` in place.
    fn backward(&self, z: &mut [f64]) {
        let n = self.lower.nrows();
        for j in (0..n).rev() {
            let column = &self.lower.as_slice()[j * n..(j + 1) * n];
            let sum: f64 = (j + 1..n).map(|i| column[i] * z[i]).sum();
            z[j] = (z[j] - sum) / column[j];
        }
    }

    /// Solves `A x = b`.
    pub(super) fn solve(&self, b: &DVector<f64>) -> DVector<f64> {
        let mut x = b.clone();
        self.forward(&mut x);
        self.backward(x.as_mut_slice());
        x
    }

    /// Solves `A X = B`.
    #[cfg(test)]
    pub(super) fn solve_all(&self, b: &DMatrix<f64>) -> DMatrix<f64> {
        let mut x = b.clone();
        for mut column in x.column_iter_mut() {
            let mut one = DVector::from_column_slice(column.as_slice());
            self.forward(&mut one);
            self.backward(one.as_mut_slice());
            column.copy_from(&one);
        }
        x
    }

    /// Whitens columns that are stored as rows: `m` (k × n) becomes `m L⁻ᵀ`.
    ///
    /// Column j of `m` holds all k values of point j, therefore each step is a
    /// combination of contiguous vectors.
    pub(super) fn whiten_rows(&self, m: &mut DMatrix<f64>) {
        let (k, n) = m.shape();
        let values = m.as_mut_slice();
        for j in 0..n {
            let (before, rest) = values.split_at_mut(j * k);
            let now = &mut rest[..k];
            let earlier = |i: usize| &before[i * k..(i + 1) * k];
            subtract_multiples(now, 0..j, earlier, |i| self.lower[(j, i)]);
            let scale = 1.0 / self.lower[(j, j)];
            now.iter_mut().for_each(|x| *x *= scale);
        }
    }

    /// Inverse of the factorised matrix, full symmetric: `L⁻ᵀ L⁻¹`, by blocks of rows of
    /// `L⁻¹`, each as long as its triangle is wide there.
    pub(super) fn inverse(&self) -> DMatrix<f64> {
        let n = self.lower.nrows();
        let mut inverse = DMatrix::zeros(n, n);
        let mut out = DMatrix::zeros(n, n);
        for from in (0..n).step_by(BLOCK) {
            let to = (from + BLOCK).min(n);
            let rows = self.inverse_rows(&inverse, from, to);
            add_outer(&mut out, 0, 1.0, &rows.transpose());
            inverse
                .view_mut((from, 0), (to - from, to))
                .copy_from(&rows);
        }
        out.fill_upper_triangle_with_lower_triangle();
        out
    }

    /// Rows of `L⁻¹`, as far as its triangle goes, where those above are known.
    fn inverse_rows(&self, above: &DMatrix<f64>, from: usize, to: usize) -> DMatrix<f64> {
        let size = to - from;
        let mut rows = DMatrix::zeros(size, to);
        if from > 0 {
            let left = self.lower.view((from, 0), (size, from));
            let above = above.view((0, 0), (from, from));
            rows.view_mut((0, 0), (size, from))
                .gemm(-1.0, &left, &above, 0.0);
        }
        for i in 0..size {
            rows[(i, from + i)] = 1.0;
        }
        let diagonal = block(&self.lower, from..to, from..to);
        for column in rows.as_mut_slice().chunks_exact_mut(size) {
            for (j, l) in diagonal.as_slice().chunks_exact(size).enumerate() {
                let (known, below) = column.split_at_mut(j + 1);
                let z = known[j] / l[j];
                known[j] = z;
                below
                    .iter_mut()
                    .zip(&l[j + 1..])
                    .for_each(|(x, l)| *x -= z * l);
            }
        }
        rows
    }
}

fn factor_diagonal(a: &mut DMatrix<f64>, from: usize, to: usize) -> Option<()> {
    let n = a.nrows();
    let values = a.as_mut_slice();
    for j in from..to {
        let (before, here) = values.split_at_mut(j * n);
        let column = &mut here[j..to];
        let earlier = |k: usize| &before[k * n + j..k * n + to];
        subtract_multiples(column, from..j, earlier, |k| before[k * n + j]);
        let pivot = column[0];
        if pivot.is_nan() || pivot <= 0.0 || pivot.is_infinite() {
            return None;
        }
        let root = pivot.sqrt();
        column[0] = root;
        column[1..].iter_mut().for_each(|x| *x /= root);
    }
    Some(())
}

/// Takes multiples of vectors off another, in their order; four at a time, so that what
/// they are taken off is fetched and stored a quarter as often.
fn subtract_multiples<'a>(
    target: &mut [f64],
    of: Range<usize>,
    vector: impl Fn(usize) -> &'a [f64],
    factor: impl Fn(usize) -> f64,
) {
    let n = target.len();
    let mut k = of.start;
    while k + 4 <= of.end {
        let (p, q) = (&vector(k)[..n], &vector(k + 1)[..n]);
        let (r, s) = (&vector(k + 2)[..n], &vector(k + 3)[..n]);
        let f = [factor(k), factor(k + 1), factor(k + 2), factor(k + 3)];
        for i in 0..n {
            target[i] = target[i] - f[0] * p[i] - f[1] * q[i] - f[2] * r[i] - f[3] * s[i];
        }
        k += 4;
    }
    for k in k..of.end {
        let (f, p) = (factor(k), &vector(k)[..n]);
        for i in 0..n {
            target[i] -= f * p[i];
        }
    }
}

/// Rows below a factorised diagonal block: `A₂₁ L₁₁⁻ᵀ`.
fn solve_below(a: &mut DMatrix<f64>, from: usize, to: usize) {
    let n = a.nrows();
    for j in from..to {
        let (left, right) = a.as_mut_slice().split_at_mut(j * n);
        let left: &[f64] = left;
        let now = &mut right[to..n];
        let earlier = |i: usize| &left[i * n + to..i * n + n];
        subtract_multiples(now, from..j, earlier, |i| left[i * n + j]);
        let pivot = right[j];
        right[to..n].iter_mut().for_each(|x| *x /= pivot);
    }
}

fn update_rest(a: &mut DMatrix<f64>, from: usize, to: usize) {
    let n = a.nrows();
    let panel = block(a, to..n, from..to);
    add_outer(a, to, -1.0, &panel);
}

/// Adds a multiple of `l lᵀ` to the lower triangle that begins at a row and column. In
/// strips of columns, so that half of what lies above is not worked out.
pub(super) fn add_outer(a: &mut DMatrix<f64>, at: usize, factor: f64, l: &DMatrix<f64>) {
    let n = l.nrows();
    if l.ncols() <= NARROW {
        let size = a.nrows();
        for j in 0..n {
            let column = &mut a.as_mut_slice()[(at + j) * size + at + j..][..n - j];
            let vector = |k: usize| &l.as_slice()[k * n + j..(k + 1) * n];
            subtract_multiples(column, 0..l.ncols(), vector, |k| -factor * l[(j, k)]);
        }
        return;
    }
    let transposed = transposed(l);
    for from in (0..n).step_by(STRIP) {
        let width = STRIP.min(n - from);
        a.view_mut((at + from, at + from), (n - from, width)).gemm(
            factor,
            &l.rows(from, n - from),
            &transposed.columns(from, width),
            1.0,
        );
    }
}

/// Adds a multiple of `l rᵀ`, which has few columns.
pub(super) fn add_narrow(a: &mut DMatrix<f64>, factor: f64, l: &DMatrix<f64>, r: &DMatrix<f64>) {
    let n = l.nrows();
    for (j, column) in a.as_mut_slice().chunks_exact_mut(n).enumerate() {
        let vector = |k: usize| &l.as_slice()[k * n..(k + 1) * n];
        subtract_multiples(column, 0..l.ncols(), vector, |k| -factor * r[(j, k)]);
    }
}

/// A matrix seen with rows for columns; nothing is copied.
fn transposed(a: &DMatrix<f64>) -> DMatrixView<'_, f64, Dyn, Dyn> {
    let (rows, columns) = a.shape();
    DMatrixView::from_slice_with_strides(a.as_slice(), columns, rows, rows, 1)
}

/// A part of a matrix.
pub(super) fn block(a: &DMatrix<f64>, rows: Range<usize>, columns: Range<usize>) -> DMatrix<f64> {
    let (n, count) = (a.nrows(), columns.len());
    let mut values = Vec::with_capacity(rows.len() * count);
    for j in columns {
        values.extend_from_slice(&a.as_slice()[j * n..][rows.clone()]);
    }
    DMatrix::from_vec(rows.len(), count, values)
}

/// Rows and columns of a matrix, by index.
pub(super) fn submatrix(a: &DMatrix<f64>, rows: &[usize], columns: &[usize]) -> DMatrix<f64> {
    let n = a.nrows();
    let mut values = Vec::with_capacity(rows.len() * columns.len());
    for j in columns {
        let column = &a.as_slice()[j * n..(j + 1) * n];
        values.extend(rows.iter().map(|i| column[*i]));
    }
    DMatrix::from_vec(rows.len(), columns.len(), values)
}

/// Entries of a vector, by index.
pub(super) fn subvector(a: &DVector<f64>, rows: &[usize]) -> DVector<f64> {
    DVector::from_fn(rows.len(), |i, _| a[rows[i]])
}

#[cfg(test)]
mod tests {
    use super::Factor;
    use nalgebra::{DMatrix, DVector};

    /// Invented: an exponential covariance with some noise.
    fn covariance(n: usize) -> DMatrix<f64> {
        DMatrix::from_fn(n, n, |i, j| {
            let noise = if i == j { 0.3 } else { 0.0 };
            (-(i as f64 - j as f64).abs() / 9.0).exp() + noise
        })
    }

    #[test]
    fn blocks_agree_with_the_plain_factorisation() {
        for n in [1, 7, 47, 48, 49, 130] {
            let a = covariance(n);
            let plain = nalgebra::Cholesky::new(a.clone()).unwrap();
            let ours = Factor::new(a.clone()).unwrap();
            let b = DVector::from_fn(n, |i, _| ((i * 37) % 11) as f64 - 4.0);
            assert!((ours.solve(&b) - plain.solve(&b)).amax() < 1e-11);
            assert!((ours.inverse() - plain.inverse()).amax() < 1e-11);
            assert!((2.0 * ours.half_ln_determinant() - plain.ln_determinant()).abs() < 1e-9);
            let many = DMatrix::from_fn(n, 3, |i, j| ((i + 5 * j) % 7) as f64);
            assert!((ours.solve_all(&many) - plain.solve(&many)).amax() < 1e-11);
            let mut white = many.transpose();
            ours.whiten_rows(&mut white);
            let gram = &white * white.transpose();
            assert!((gram - many.transpose() * plain.solve(&many)).amax() < 1e-9);
        }
    }

    #[test]
    fn what_is_not_positive_definite_is_refused() {
        let mut a = covariance(60);
        a[(55, 55)] = -1.0;
        assert!(Factor::new(a.clone()).is_none());
        a[(55, 55)] = f64::NAN;
        assert!(Factor::new(a).is_none());
    }
}
