//! One field against the readings.
//!
//! Model: `y_i = a · x(t_i + δ_i) + b + ε_i` with the clock error `δ_i` uniform
//! over ± the person's error and `ε_i` Gaussian of variance
//! `σ² = r²/12 + a²/12` (rounding to steps of `r`, and the field's own step).
//! The clock error is marginalised over [`MOMENTS`] moments; `a` and `b` maximise
//! that likelihood by expectation–maximisation.
//!
//! **Source**: variance of rounding r²/12 (JCGM 100:2008, F.2.2.1);
//! expectation–maximisation (Dempster, Laird, Rubin 1977).

use super::GaugeReading;
use super::field::Field;
use super::window::{MOMENTS, Window};

/// A straight line through the readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct FittedLine {
    /// Gauge units per count.
    pub scale: f64,
    /// Gauge units at count 0.
    pub offset: f64,
    /// Standard deviation of rounding and of the field's step, gauge units.
    pub sigma: f64,
    /// Natural logarithm of the likelihood at the optimum.
    pub ln_likelihood: f64,
    /// Chi-squared with each reading at the moment that suits it best: no larger
    /// than chi-squared, also where the gauge moves within the clock error.
    pub deviance: f64,
    /// Share of the readings' variance that is explained.
    pub r_squared: f64,
}

/// A field that explains less than this of the variance at first sight is passed
/// over: with rounding far below the span of the readings, the field that carries
/// the gauge explains more even when it moves within the clock error.
const LEAST_R_SQUARED: f64 = 0.5;

/// Rounds of expectation and maximisation; the change after is far below σ.
const ROUNDS: usize = 6;

/// What a field is worth.
pub(super) enum Tried {
    /// It never changes at the readings, so it is no hypothesis.
    Constant,
    /// It changes and does not follow the readings.
    Unlike,
    /// It follows them.
    Fits(FittedLine),
}

/// Fits one field.
pub(super) fn fit(
    field: Field,
    windows: &[Window],
    readings: &[GaugeReading],
    rounding: f64,
) -> Tried {
    let x = values(field, windows);
    let first = x.first().map_or(0.0, |w| w[0]);
    if x.iter().flatten().all(|v| *v == first) {
        return Tried::Constant;
    }
    let even = vec![[1.0 / MOMENTS as f64; MOMENTS]; x.len()];
    let Some(mut line) = least_squares(&x, &middle(&x), readings) else {
        return Tried::Unlike;
    };
    if line.2 < LEAST_R_SQUARED {
        return Tried::Unlike;
    }
    let mut weights = even;
    let mut sigma = noise(rounding, line.0);
    for _ in 0..ROUNDS {
        sigma = noise(rounding, line.0);
        reweigh(&x, readings, (line.0, line.1), sigma, &mut weights);
        match least_squares(&x, &weights, readings) {
            Some(better) => line = better,
            None => return Tried::Unlike,
        }
    }
    let (ln_likelihood, deviance) = likelihood(&x, readings, (line.0, line.1), sigma);
    Tried::Fits(FittedLine {
        scale: line.0,
        offset: line.1,
        sigma,
        ln_likelihood,
        deviance,
        r_squared: line.2,
    })
}

/// The field at each moment of each reading.
pub(super) fn values(field: Field, windows: &[Window]) -> Vec<[f64; MOMENTS]> {
    (windows.iter())
        .map(|window| window.map(|moment| moment.value(field)))
        .collect()
}

/// Mean and standard deviation of a field over the moments of all readings.
pub(super) fn spread_of(x: &[[f64; MOMENTS]]) -> (f64, f64) {
    let n = (x.len() * MOMENTS) as f64;
    let mean = x.iter().flatten().sum::<f64>() / n;
    let square = x.iter().flatten().map(|v| (v - mean).powi(2)).sum::<f64>() / n;
    (mean, square.sqrt())
}

/// Weights of one at the middle moment: the noted time itself.
fn middle(x: &[[f64; MOMENTS]]) -> Vec<[f64; MOMENTS]> {
    let mut weights = [0.0; MOMENTS];
    weights[MOMENTS / 2] = 1.0;
    vec![weights; x.len()]
}

fn noise(rounding: f64, scale: f64) -> f64 {
    ((rounding * rounding + scale * scale) / 12.0).sqrt()
}

/// Scale, offset and R² of the weighted line.
fn least_squares(
    x: &[[f64; MOMENTS]],
    weights: &[[f64; MOMENTS]],
    readings: &[GaugeReading],
) -> Option<(f64, f64, f64)> {
    let n = readings.len() as f64;
    let points = || {
        x.iter()
            .zip(weights)
            .zip(readings)
            .flat_map(|((x, w), reading)| {
                let y = reading.value;
                x.iter().zip(w).map(move |(x, w)| (*x, y, *w))
            })
    };
    let (sx, sy) = points().fold((0.0, 0.0), |s, (x, y, w)| (s.0 + w * x, s.1 + w * y));
    let (mx, my) = (sx / n, sy / n);
    let (sxx, sxy, syy) = points().fold((0.0, 0.0, 0.0), |s, (x, y, w)| {
        let (dx, dy) = (x - mx, y - my);
        (s.0 + w * dx * dx, s.1 + w * dx * dy, s.2 + w * dy * dy)
    });
    if sxx <= 0.0 || syy <= 0.0 || sxy == 0.0 {
        return None;
    }
    let scale = sxy / sxx;
    Some((scale, my - scale * mx, sxy * sxy / (sxx * syy)))
}

/// Posterior weight of each moment.
fn reweigh(
    x: &[[f64; MOMENTS]],
    readings: &[GaugeReading],
    (scale, offset): (f64, f64),
    sigma: f64,
    weights: &mut [[f64; MOMENTS]],
) {
    for ((x, reading), weights) in x.iter().zip(readings).zip(weights) {
        let z = x.map(|x| ((reading.value - scale * x - offset) / sigma).powi(2) / 2.0);
        let least = z.iter().copied().fold(f64::INFINITY, f64::min);
        let raw = z.map(|z| (least - z).exp());
        let sum: f64 = raw.iter().sum();
        *weights = raw.map(|w| w / sum);
    }
}

/// ln likelihood with the clock error marginalised, and the deviance.
fn likelihood(
    x: &[[f64; MOMENTS]],
    readings: &[GaugeReading],
    (scale, offset): (f64, f64),
    sigma: f64,
) -> (f64, f64) {
    let perfect = -0.5 * (std::f64::consts::TAU * sigma * sigma).ln();
    let (mut ln_sum, mut deviance) = (0.0, 0.0);
    for (x, reading) in x.iter().zip(readings) {
        let z = x.map(|x| ((reading.value - scale * x - offset) / sigma).powi(2) / 2.0);
        let least = z.iter().copied().fold(f64::INFINITY, f64::min);
        let mean: f64 = z.iter().map(|z| (least - z).exp()).sum::<f64>() / MOMENTS as f64;
        ln_sum += mean.ln() - least;
        deviance += 2.0 * least;
    }
    let n = readings.len() as f64;
    (n * perfect + ln_sum, deviance)
}
