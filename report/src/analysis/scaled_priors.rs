//! Priors whose size is known only up to a factor: each factor is weighed by
//! what the readings say of it, and the solutions are averaged.

use nalgebra::{DMatrix, DVector};

/// Normal equations of a regression at a known variance of its readings.
pub(crate) struct Normal {
    pub(crate) xtx: DMatrix<f64>,
    pub(crate) xty: DVector<f64>,
    yty: f64,
    pub(crate) variance: f64,
}

impl Normal {
    pub(crate) fn of(x: &DMatrix<f64>, y: &DVector<f64>, variance: f64) -> Self {
        Normal {
            xtx: x.transpose() * x,
            xty: x.transpose() * y,
            yty: y.norm_squared(),
            variance,
        }
    }

    /// Their matrix with these precisions of the coefficients added.
    pub(crate) fn with(&self, precisions: &[f64]) -> DMatrix<f64> {
        let mut a = self.xtx.clone();
        for (j, precision) in precisions.iter().enumerate() {
            a[(j, j)] += self.variance * precision;
        }
        a
    }

    /// Solution with these precisions of the coefficients; `None` where it is
    /// not determined.
    fn solve(&self, precisions: Vec<f64>) -> Option<One> {
        let root = self.with(&precisions).cholesky()?;
        let values = root.solve(&self.xty);
        let squares = (self.yty - values.dot(&self.xty)).max(0.0);
        let factor = root.l_dirty();
        let spread: f64 = (0..precisions.len())
            .map(|j| 2.0 * factor[(j, j)].ln())
            .sum();
        let prior: f64 = precisions
            .iter()
            .filter(|p| **p > 0.0)
            .map(|p| (self.variance * p).ln())
            .sum();
        Some(One {
            root,
            values,
            squares,
            // −2·ln of the readings' density, constants left out.
            surprise: squares / self.variance + spread - prior,
            precisions,
        })
    }
}

/// One solution.
struct One {
    root: nalgebra::Cholesky<f64, nalgebra::Dyn>,
    values: DVector<f64>,
    squares: f64,
    surprise: f64,
    precisions: Vec<f64>,
}

/// Mean over the factors.
pub(crate) struct Averaged {
    pub(crate) values: DVector<f64>,
    /// Of each coefficient: within the solutions and between them.
    pub(crate) variances: Vec<f64>,
    /// Mean of the inverse matrices: coefficients per reading.
    pub(crate) inverse: DMatrix<f64>,
    /// Sum of squares, what the priors are off included.
    pub(crate) squares: f64,
    /// Coefficient (row) per standard deviation by which the middle of the prior
    /// of a coefficient (column) is moved, `v·A⁻¹·√p`.
    pub(crate) by_prior: DMatrix<f64>,
}

/// Factors that the readings make less likely than this against the best are
/// left out.
const LEAST_WEIGHT: f64 = 1e-3;

/// Average over every combination of the families' factors, all equally likely
/// beforehand.
///
/// With the variance known, the density of the readings under factors `s` is
/// normal; its logarithm is `−½(S/v + ln|A| − Σ ln(v·pⱼ))` with S the penalised
/// sum of squares, A the matrix of the normal equations and pⱼ the precisions
/// of the priors. The variance of the mean is the mean of the variances and the
/// variance of the means.
///
/// **Source**: restricted likelihood of a mixed model (Patterson and Thompson
/// 1971), Bayesian model averaging (Hoeting et al. 1999), both from memory.
pub(crate) fn average(
    normal: &Normal,
    precisions: &[f64],
    of_family: &[Option<usize>],
    families: &[&[f64]],
) -> Option<Averaged> {
    let mut solutions = Vec::new();
    for factors in combinations(families) {
        let scaled: Vec<f64> = precisions
            .iter()
            .zip(of_family)
            .map(|(p, family)| family.map_or(*p, |f| p / factors[f].powi(2)))
            .collect();
        solutions.push(normal.solve(scaled)?);
    }
    let best = solutions
        .iter()
        .map(|s| s.surprise)
        .fold(f64::INFINITY, f64::min);
    let weight = |s: &One| (-0.5 * (s.surprise - best)).exp();
    solutions.retain(|s| weight(s) >= LEAST_WEIGHT);
    let total: f64 = solutions.iter().map(weight).sum();
    let p = precisions.len();
    let mut mean = Averaged {
        values: DVector::zeros(p),
        variances: vec![0.0; p],
        inverse: DMatrix::zeros(p, p),
        squares: 0.0,
        by_prior: DMatrix::zeros(p, p),
    };
    for s in &solutions {
        let share = weight(s) / total;
        mean.values += &s.values * share;
        let mut inverse = s.root.inverse() * share;
        mean.inverse += &inverse;
        for (mut column, precision) in inverse.column_iter_mut().zip(&s.precisions) {
            column *= normal.variance * precision.sqrt();
        }
        mean.by_prior += inverse;
        mean.squares += s.squares * share;
    }
    for j in 0..p {
        let between: f64 = solutions
            .iter()
            .map(|s| weight(s) / total * (s.values[j] - mean.values[j]).powi(2))
            .sum();
        mean.variances[j] = normal.variance * mean.inverse[(j, j)] + between;
    }
    Some(mean)
}

/// Every choice of one factor per family.
fn combinations(families: &[&[f64]]) -> Vec<Vec<f64>> {
    families.iter().fold(vec![Vec::new()], |all, factors| {
        all.iter()
            .flat_map(|begun| {
                factors.iter().map(|f| {
                    let mut longer = begun.clone();
                    longer.push(*f);
                    longer
                })
            })
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Without families the average is the one solution, here the mean of a
    /// constant and its variance over n.
    #[test]
    fn without_families_it_is_least_squares() {
        let x = DMatrix::from_element(4, 1, 1.0);
        let y = DVector::from_vec(vec![1.0, 3.0, 1.0, 3.0]);
        let mean = average(&Normal::of(&x, &y, 2.0), &[0.0], &[None], &[]).expect("solves");
        assert!((mean.values[0] - 2.0).abs() < 1e-12);
        assert!((mean.variances[0] - 0.5).abs() < 1e-12);
    }

    /// Two coefficients, both found to be 0.01: a family of size 0.01 explains
    /// them better than one of size 1, and pulls them to zero accordingly.
    #[test]
    fn the_readings_choose_the_size_of_a_family() {
        let x = DMatrix::identity(2, 2);
        let y = DVector::from_vec(vec![0.01, -0.01]);
        let of = |factors: &[f64]| {
            let normal = Normal::of(&x, &y, 1e-4);
            average(&normal, &[1.0; 2], &[Some(0); 2], &[factors]).expect("solves")
        };
        let both = of(&[0.01, 1.0]);
        // Closed form of the small size alone: half.
        assert!((of(&[0.01]).values[0] - 0.005).abs() < 1e-12);
        assert!((both.values[0] - 0.005).abs() < 2e-4, "{}", both.values[0]);
    }
}
