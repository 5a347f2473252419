//! Intervals by resampling blocks of residuals.

use super::check::{check, root_weights};
use super::nonlinear::lowest;
use super::outcome::unbiased_lag1;
use super::{Curve, Fit, NoFit};
use crate::analysis::stats::{Interval, SplitMix64, quantile, sd};

/// A moving-block bootstrap of the residuals of a fit.
///
/// Residuals are cut into overlapping blocks, blocks are drawn and strung
/// together, the result is added to the fitted curve and the curve is fitted
/// again. Correlation up to about the length of a block survives, whatever its
/// form. What it does not do: short series (fewer than ten blocks) give
/// intervals that are too narrow, and percentiles do not make up for it; there
/// [`Fit::allowing_for_autocorrelation`] with its Student t is the wider and
/// the safer one.
///
/// **Source**: Künsch, Ann. Stat. 17 (1989) 1217; block length for AR(1) after
/// Carlstein, Ann. Stat. 14 (1986) 1171 (both cited from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BlockBootstrap {
    /// Series drawn. 1000 for a 95 % interval, 200 for a standard error.
    pub draws: usize,
    /// Points in a block; `None` takes it from the lag-1 correlation r of the
    /// residuals: n^⅓·max(1, (2r/(1−r²))^⅔), at most a quarter of the points.
    pub block: Option<usize>,
    /// Seed: the same seed gives the same interval.
    pub seed: u64,
}

impl Default for BlockBootstrap {
    fn default() -> Self {
        BlockBootstrap {
            draws: 1_000,
            block: None,
            seed: 1,
        }
    }
}

/// Parameter values of the resampled series.
#[derive(Debug, Clone, PartialEq)]
pub struct Resampled {
    /// One list of parameter values per series that could be fitted.
    pub values: Vec<Vec<f64>>,
    /// Series that could not be fitted. More than a few in a hundred make the
    /// interval doubtful.
    pub failed: usize,
    /// Points in a block.
    pub block: usize,
}

impl Resampled {
    /// Percentile interval of any quantity of the parameters. Open when no
    /// series could be fitted.
    pub fn interval_of(&self, quantity: impl Fn(&[f64]) -> f64, level: f64) -> Interval {
        let all: Vec<f64> = self.values.iter().map(|v| quantity(v)).collect();
        let at = |p: f64, open: f64| quantile(&all, p).unwrap_or(open);
        Interval {
            low: at(f64::midpoint(0.0, 1.0 - level), f64::NEG_INFINITY),
            high: at(f64::midpoint(1.0, level), f64::INFINITY),
            level,
        }
    }

    /// Percentile interval of one parameter.
    ///
    /// # Panics
    /// When there is no such parameter.
    #[must_use]
    pub fn interval(&self, parameter: usize, level: f64) -> Interval {
        self.interval_of(|v| v[parameter], level)
    }

    /// Standard deviation of one parameter over the series; `None` below two.
    ///
    /// # Panics
    /// When there is no such parameter.
    #[must_use]
    pub fn standard_error(&self, parameter: usize) -> Option<f64> {
        let all: Vec<f64> = self.values.iter().map(|v| v[parameter]).collect();
        sd(&all)
    }
}

impl BlockBootstrap {
    /// Resample. The fit must be of the same curve, observations and weights;
    /// points in time order and evenly spaced.
    ///
    /// # Errors
    /// [`NoFit`] when the data do not belong to the fit.
    ///
    /// ```
    /// use seep_report::analysis::fit::{BlockBootstrap, nonlinear};
    /// let y: Vec<f64> = (0..60).map(|i| 5.0 + 0.1 * f64::from(i * i % 7)).collect();
    /// let level = |p: &[f64], out: &mut [f64]| out.fill(p[0]);
    /// let fit = nonlinear(&level, &y, None, &[&[5.0]])?;
    /// let resampled = BlockBootstrap::default().run(&level, &y, None, &fit)?;
    /// let interval = resampled.interval(0, 0.95);
    /// assert!(interval.contains(fit.values[0]) && interval.width() < 0.3);
    /// # Ok::<(), seep_report::analysis::fit::NoFit>(())
    /// ```
    pub fn run(
        &self,
        curve: &impl Curve,
        y: &[f64],
        weights: Option<&[f64]>,
        fit: &Fit,
    ) -> Result<Resampled, NoFit> {
        check(y, weights, fit.residuals.len(), fit.values.len())?;
        let roots = root_weights(weights, y.len());
        let block = self.block_of(fit);
        let residuals = centred(fit, &roots);
        let mut rng = SplitMix64::new(self.seed);
        let mut resampled = Resampled {
            values: Vec::with_capacity(self.draws),
            failed: 0,
            block,
        };
        for _ in 0..self.draws {
            let drawn = draw(&residuals, block, &mut rng);
            let series: Vec<f64> = (0..y.len())
                .map(|i| y[i] - fit.residuals[i] + drawn[i] / roots[i])
                .collect();
            match lowest(curve, &series, &roots, &[&fit.values]) {
                Some((values, _)) => resampled.values.push(values),
                None => resampled.failed += 1,
            }
        }
        Ok(resampled)
    }

    fn block_of(&self, fit: &Fit) -> usize {
        let points = fit.residuals.len();
        let n = points as f64;
        let r = unbiased_lag1(
            fit.residual_lag1.unwrap_or(0.0),
            points,
            fit.values.len() as f64,
        );
        let r = r.clamp(0.0, 0.99);
        let wanted = n.cbrt() * (2.0 * r / (1.0 - r * r)).powf(2.0 / 3.0).max(1.0);
        let chosen = self
            .block
            .unwrap_or_else(|| wanted.min(n / 4.0).round() as usize);
        chosen.clamp(1, points)
    }
}

/// Weighted residuals less their mean, grown by √(n/df) for what the fit took
/// out of them.
fn centred(fit: &Fit, roots: &[f64]) -> Vec<f64> {
    let n = roots.len() as f64;
    let weighted: Vec<f64> = fit
        .residuals
        .iter()
        .zip(roots)
        .map(|(r, w)| r * w)
        .collect();
    let mean = weighted.iter().sum::<f64>() / n;
    let growth = (n / (n - fit.values.len() as f64)).sqrt();
    weighted.iter().map(|r| growth * (r - mean)).collect()
}

/// Blocks drawn with replacement and strung together.
fn draw(residuals: &[f64], block: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let mut out = Vec::with_capacity(residuals.len() + block);
    while out.len() < residuals.len() {
        let start = rng.below(residuals.len() - block + 1);
        out.extend_from_slice(&residuals[start..start + block]);
    }
    out.truncate(residuals.len());
    out
}

#[cfg(test)]
#[path = "block_bootstrap_tests.rs"]
mod tests;
