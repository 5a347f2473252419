//! Least squares that a few wild readings do not carry away.

use super::estimate::Estimate;
use super::stats::median;
use nalgebra::{DMatrix, DVector};

/// Residuals up to this many scales count in full, larger ones by their sign:
/// 95 % efficient on normal data. **Source**: Huber 1964.
const HUBER_K: f64 = 1.345;

/// Rounds at most.
const ROUNDS: usize = 50;

/// Result of a robust regression.
#[derive(Debug, Clone)]
pub(crate) struct Robust {
    /// Coefficients with their errors.
    pub coefficients: Vec<Estimate>,
    covariance: DMatrix<f64>,
}

impl Robust {
    /// Standard error of `Σ gᵢ·cᵢ`: `√(gᵀ·Cov·g)`.
    pub(crate) fn error_of(&self, g: &[f64]) -> f64 {
        let g = DVector::from_column_slice(g);
        (&self.covariance * &g).dot(&g).max(0.0).sqrt()
    }
}

/// `y = Σ cᵢ·columnᵢ + noise` by Huber's M-estimator; `weights` are relative
/// inverse variances. `None` with fewer than three readings to spare, or where
/// a coefficient is not determined.
///
/// Scale: median absolute residual / 0.6745, anew each round. Variance:
/// `κ²·Σψ²/(n−p)/(mean ψ′)²·(XᵀX)⁻¹` with `κ = 1 + p/n·var ψ′/(mean ψ′)²`.
///
/// **Source**: Huber, *Robust Statistics* (1981), section 7.6 (from memory).
pub(crate) fn robust(columns: &[Vec<f64>], y: &[f64], weights: &[f64]) -> Option<Robust> {
    let (n, p) = (y.len(), columns.len());
    if n < p + 3 {
        return None;
    }
    let root: Vec<f64> = weights.iter().map(|w| w.sqrt()).collect();
    let size: Vec<f64> = columns.iter().map(|c| largest(c)).collect();
    if size.iter().any(|s| *s <= 0.0 || !s.is_finite()) {
        return None;
    }
    let x = DMatrix::from_fn(n, p, |i, j| columns[j][i] / size[j] * root[i]);
    let rhs = DVector::from_fn(n, |i, _| y[i] * root[i]);
    let mut values = weighted(&x, &rhs, &vec![1.0; n])?;
    let mut scale = 0.0;
    for _ in 0..ROUNDS {
        let off = &rhs - &x * &values;
        scale = scale_of(&off);
        if scale <= 0.0 {
            break;
        }
        let clip = |r: &f64| (HUBER_K * scale / r.abs()).min(1.0);
        let next = weighted(&x, &rhs, &off.iter().map(clip).collect::<Vec<_>>())?;
        let moved = (&next - &values).amax();
        values = next;
        if moved <= 1e-10 * values.amax() {
            break;
        }
    }
    let off = &rhs - &x * &values;
    let (sd, inverse) = (spread(&off, scale, p)?, (x.transpose() * &x).cholesky()?);
    let inverse = inverse.inverse();
    let covariance = DMatrix::from_fn(p, p, |i, j| sd * sd * inverse[(i, j)] / (size[i] * size[j]));
    Some(Robust {
        coefficients: (0..p)
            .map(|j| Estimate {
                value: values[j] / size[j],
                se: covariance[(j, j)].sqrt(),
                degrees_of_freedom: (n - p) as f64,
            })
            .collect(),
        covariance,
    })
}

/// Standard deviation that stands for the noise in the errors of coefficients.
fn spread(off: &DVector<f64>, scale: f64, p: usize) -> Option<f64> {
    let n = off.len() as f64;
    if scale <= 0.0 {
        // More than half lie on the line; what the others are off counts.
        return Some((off.norm_squared() / (n - p as f64)).sqrt());
    }
    let inside = |r: &&f64| r.abs() <= HUBER_K * scale;
    let share = off.iter().filter(inside).count() as f64 / n;
    let psi: f64 = off
        .iter()
        .map(|r| r.abs().min(HUBER_K * scale).powi(2))
        .sum();
    let kappa = 1.0 + p as f64 / n * (1.0 - share) / share;
    (share > 0.0).then(|| (psi / (n - p as f64)).sqrt() * kappa / share)
}

fn weighted(x: &DMatrix<f64>, y: &DVector<f64>, weights: &[f64]) -> Option<DVector<f64>> {
    let mut scaled = x.clone();
    for (mut row, w) in scaled.row_iter_mut().zip(weights) {
        row *= *w;
    }
    Some(
        (x.transpose() * &scaled)
            .cholesky()?
            .solve(&(scaled.transpose() * y)),
    )
}

fn scale_of(off: &DVector<f64>) -> f64 {
    let sizes: Vec<f64> = off.iter().map(|r| r.abs()).collect();
    median(&sizes).unwrap_or(0.0) / 0.6745
}

fn largest(column: &[f64]) -> f64 {
    column.iter().fold(0.0, |most, v| v.abs().max(most))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Brownlee's stack loss data, the standard example of robust regression.
    /// Coefficients and errors as the R package MASS gives them for Huber's
    /// estimator (`rlm`); data and figures from memory.
    #[test]
    fn stack_loss_as_published() {
        let air = [
            80, 80, 75, 62, 62, 62, 62, 62, 58, 58, 58, 58, 58, 58, 50, 50, 50, 50, 50, 56, 70,
        ];
        let water = [
            27, 27, 25, 24, 22, 23, 24, 24, 23, 18, 18, 17, 18, 19, 18, 18, 19, 19, 20, 20, 20,
        ];
        let acid = [
            89, 88, 90, 87, 87, 87, 93, 93, 87, 80, 89, 88, 82, 93, 89, 86, 72, 79, 80, 82, 91,
        ];
        let loss = [
            42, 37, 37, 28, 18, 18, 19, 20, 15, 14, 14, 13, 11, 12, 8, 7, 8, 8, 9, 15, 15,
        ];
        let real = |v: &[i32]| v.iter().map(|x| f64::from(*x)).collect::<Vec<_>>();
        let columns = [vec![1.0; 21], real(&air), real(&water), real(&acid)];
        let fit = robust(&columns, &real(&loss), &[1.0; 21]).expect("solves");
        let published = [
            (-41.026_5, 9.807_3),
            (0.829_4, 0.111_2),
            (0.926_1, 0.303_4),
            (-0.127_8, 0.128_9),
        ];
        for (c, (value, se)) in fit.coefficients.iter().zip(published) {
            assert!(
                (c.value - value).abs() < 1e-3 * value.abs(),
                "{c:?} {value}"
            );
            assert!((c.se - se).abs() < 2e-3 * se, "{c:?} {se}");
        }
    }

    #[test]
    fn one_wild_reading_does_not_carry_the_line_away() {
        let x: Vec<f64> = (0..20).map(f64::from).collect();
        let mut y: Vec<f64> = x
            .iter()
            .map(|x| 3.0 + 0.5 * x + 0.1 * (x * 2.3).sin())
            .collect();
        y[19] += 40.0;
        let fit = robust(&[vec![1.0; 20], x], &y, &[1.0; 20]).expect("solves");
        let slope = fit.coefficients[1];
        assert!((slope.value - 0.5).abs() < 0.02, "{fit:?}");
        assert!(slope.se < 0.02, "{fit:?}");
    }
}
