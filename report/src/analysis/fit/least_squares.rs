//! The linear least-squares core: min ‖A·β − b‖.

use nalgebra::{DMatrix, DVector};

use super::NoFit;

/// Smallest singular value, relative to the largest and after scaling every
/// column to length 1, at which a direction still counts as determined.
const RANK_TOLERANCE: f64 = 1e-13;

/// Sweeps allowed to the singular value decomposition of a small triangle;
/// a handful are needed.
const SVD_SWEEPS: usize = 1_000;

/// Solution of a linear least-squares problem.
pub(super) struct LeastSquaresSolution {
    /// β.
    pub(super) coefficients: DVector<f64>,
    /// (AᵀA)⁻¹: times the residual variance it is the covariance of β.
    pub(super) unscaled_covariance: DMatrix<f64>,
}

/// Solve by Householder QR, then a singular value decomposition of the small
/// triangle for rank and covariance, with one step of refinement.
///
/// Columns are scaled to length 1 first, so that units do not decide the rank.
pub(super) fn solve(mut a: DMatrix<f64>, b: &DVector<f64>) -> Result<LeastSquaresSolution, NoFit> {
    let scales: Vec<f64> = a.column_iter().map(|c| c.norm()).collect();
    for (mut column, scale) in a.column_iter_mut().zip(&scales) {
        if *scale > 0.0 {
            column /= *scale;
        }
    }
    let qr = a.clone().qr();
    let (r, width) = (qr.r(), a.ncols());
    let svd = r
        .try_svd(true, true, f64::EPSILON, SVD_SWEEPS)
        .ok_or(NoFit::NotIdentifiable { parameters: vec![] })?;
    let (Some(u), Some(v_t)) = (&svd.u, &svd.v_t) else {
        return Err(NoFit::NotIdentifiable { parameters: vec![] });
    };
    refuse_if_deficient(&svd.singular_values, v_t)?;
    let apply = |rhs: &DVector<f64>| {
        let mut q_t = rhs.clone();
        qr.q_tr_mul(&mut q_t);
        let mut c = u.tr_mul(&q_t.rows(0, width));
        c.component_div_assign(&svd.singular_values);
        v_t.tr_mul(&c)
    };
    let mut scaled = apply(b);
    scaled += apply(&(b - &a * &scaled));
    let mut half = v_t.clone();
    for (mut row, s) in half.row_iter_mut().zip(svd.singular_values.iter()) {
        row /= *s;
    }
    for (mut column, scale) in half.column_iter_mut().zip(&scales) {
        column /= *scale;
    }
    Ok(LeastSquaresSolution {
        coefficients: scaled.component_div(&DVector::from_vec(scales)),
        unscaled_covariance: half.tr_mul(&half),
    })
}

/// Name the parameters that the data cannot tell apart.
fn refuse_if_deficient(singular: &DVector<f64>, v_t: &DMatrix<f64>) -> Result<(), NoFit> {
    let limit = singular.max() * RANK_TOLERANCE;
    // `NaN` counts as undetermined.
    let determined = |s: &f64| *s > limit;
    if singular.iter().all(determined) {
        return Ok(());
    }
    let takes_part = |parameter: &usize| {
        let direction = |k: usize| v_t[(k, *parameter)].abs() > 0.1;
        (0..singular.len()).any(|k| !determined(&singular[k]) && direction(k))
    };
    Err(NoFit::NotIdentifiable {
        parameters: (0..v_t.ncols()).filter(takes_part).collect(),
    })
}
