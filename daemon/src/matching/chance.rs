//! How sure: evidence against chance, and against the next best.

use super::fit::FittedLine;

/// Prior probability that the bus carries the gauge at all. Even odds: nothing
/// is known of an unknown bus.
const PRIOR_ON_THE_BUS: f64 = 0.5;

/// ln evidence of a line over that of readings which follow nothing.
///
/// Null: `y ~ N(mean, s²)` at its optimum. The line's two parameters cost
/// `ln n + 2 ln(s/σ)`: their prior spans what the readings span, and `n` readings
/// pin them to `σ/√n` (Laplace's approximation; BIC is the case s = σ).
///
/// **Source**: Kass and Raftery 1995, equations 5 and 9, from memory, unverified.
pub(super) fn ln_bayes_factor(line: &FittedLine, values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let spread = spread(values).max(line.sigma);
    let null = -0.5 * n * ((std::f64::consts::TAU * spread * spread).ln() + 1.0);
    line.ln_likelihood - null - n.ln() - 2.0 * (spread / line.sigma).ln()
}

/// ln prior odds of one among so many hypotheses against none of them.
pub(super) fn ln_prior_odds(hypotheses: usize) -> f64 {
    (PRIOR_ON_THE_BUS / (1.0 - PRIOR_ON_THE_BUS)).ln() - (hypotheses.max(1) as f64).ln()
}

/// Signals of a vehicle that may follow a gauge without being it: pressure and
/// height at each of four corners and the tank's pressure make nine, less one.
const FOLLOWERS: f64 = 8.0;

/// ln odds of the gauge against a signal that only follows it.
pub(super) fn ln_odds_over_followers(ln_follower: f64) -> f64 {
    -FOLLOWERS.ln() - ln_follower
}

/// Standard deviation of the readings.
pub(super) fn spread(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt()
}

/// A deviance that comes by chance less often than this speaks against the line.
const LEAST_CHANCE: f64 = 0.001;

/// Whether a chi-squared of so many readings and two parameters is no larger
/// than one in a thousand by chance.
pub(super) fn explains_all(deviance: f64, readings: usize) -> bool {
    let degrees = readings.saturating_sub(2).max(1);
    1.0 - chi_squared_below(deviance, degrees) >= LEAST_CHANCE
}

/// Probability that chi-squared is below a value: the incomplete gamma function
/// `P(k/2, x/2)` by its series `zᵃ e⁻ᶻ Σ zⁿ/Γ(a+n+1)`.
///
/// **Source**: NIST Digital Library of Mathematical Functions, 8.7.1.
pub(super) fn chi_squared_below(value: f64, degrees: usize) -> f64 {
    let (a, z) = (degrees as f64 / 2.0, value.max(0.0) / 2.0);
    if z > a + 50.0 * a.sqrt() + 50.0 {
        return 1.0; // Beyond what a double can tell from one.
    }
    let mut ln_gamma = if degrees.is_multiple_of(2) {
        0.0 // ln Γ(1)
    } else {
        std::f64::consts::PI.ln() / 2.0 // ln Γ(1/2)
    };
    let mut at = if degrees.is_multiple_of(2) { 1.0 } else { 0.5 };
    while at <= a {
        ln_gamma += f64::ln(at); // Γ(at + 1) = at Γ(at)
        at += 1.0;
    }
    let mut term = (a * z.ln() - z - ln_gamma).exp();
    let mut sum = 0.0;
    let mut n = a;
    while term > sum * f64::EPSILON {
        sum += term;
        n += 1.0;
        term *= z / n;
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// **Source**: table of the chi-squared distribution, upper 0.1 %
    /// (NIST/SEMATECH e-Handbook 1.3.6.7.4): 10.828 for 1, 16.266 for 3, 22.458 for
    /// 6 and 29.588 for 10 degrees of freedom.
    #[test]
    fn the_limit_is_that_of_the_table() {
        for (degrees, quantile) in [(1, 10.828), (3, 16.266), (6, 22.458), (10, 29.588)] {
            assert!(explains_all(quantile - 0.002, degrees + 2), "{degrees}");
            assert!(!explains_all(quantile + 0.002, degrees + 2), "{degrees}");
        }
    }
}
