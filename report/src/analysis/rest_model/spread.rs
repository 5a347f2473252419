//! Spread of the leak between rests beyond their errors, by maximum likelihood with
//! heavy tails: a single odd rest must not set the spread of all.

use super::odds::ln_t4;
use super::plan::median;

/// Spread and robust centre of `c_i ± s_i`.
///
/// Equation: `ω` maximises `Σ ln t₄((c − μ)/√(s² + ω²)) − ½ Σ ln(s² + ω²)` less a
/// half-Cauchy-like penalty at 0.7 of the smallest error; `μ` the t₄ weighted mean.
pub(super) fn spread(estimates: &[(f64, f64)]) -> (f64, f64) {
    let centre = median(estimates.iter().map(|e| e.0).collect()).unwrap_or(0.0);
    let least = estimates.iter().map(|e| e.1).fold(f64::INFINITY, f64::min);
    if estimates.len() < 3 || !least.is_finite() || least <= 0.0 {
        return (0.0, centre);
    }
    let steps = (0..40).map(|k| 0.02 * 2500_f64.powf(f64::from(k) / 39.0) * least);
    std::iter::once(0.0)
        .chain(steps)
        .map(|omega| {
            let (mean, likelihood) = at(estimates, omega, centre);
            let penalty = 0.5 * (omega / (0.7 * least)).powi(2).ln_1p();
            (likelihood - penalty, omega, mean)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.total_cmp(&a.1)))
        .map_or((0.0, centre), |best| (best.1, best.2))
}

fn at(estimates: &[(f64, f64)], omega: f64, start: f64) -> (f64, f64) {
    let mut mean = start;
    for _ in 0..10 {
        let (mut sum, mut weights) = (0.0, 0.0);
        for (c, s) in estimates {
            let variance = s * s + omega * omega;
            let weight = 5.0 / (4.0 + (c - mean).powi(2) / variance) / variance;
            sum += weight * c;
            weights += weight;
        }
        mean = sum / weights;
    }
    let likelihood = estimates
        .iter()
        .map(|(c, s)| {
            let variance = s * s + omega * omega;
            ln_t4((c - mean) / variance.sqrt()) - 0.5 * variance.ln()
        })
        .sum();
    (mean, likelihood)
}

#[cfg(test)]
mod tests {
    use super::spread;

    #[test]
    fn equal_estimates_have_no_spread_and_one_odd_rest_makes_none() {
        let mut same: Vec<(f64, f64)> = (0..20)
            .map(|i| (2.0 + 0.05 * f64::from(i % 3 - 1), 0.1))
            .collect();
        let (omega, mean) = spread(&same);
        assert_eq!(omega, 0.0);
        assert!((mean - 2.0).abs() < 0.02);
        same[7].0 = 9.0;
        let (omega, mean) = spread(&same);
        assert!(omega < 0.05, "{omega}");
        assert!((mean - 2.0).abs() < 0.03, "{mean}");
    }

    #[test]
    fn a_true_spread_is_found() {
        // Invented: ±1 about 5, each known to 0.1.
        let two: Vec<(f64, f64)> = (0..20)
            .map(|i| (5.0 + if i % 2 == 0 { 1.0 } else { -1.0 }, 0.1))
            .collect();
        let (omega, mean) = spread(&two);
        assert!((0.7..1.4).contains(&omega), "{omega}");
        assert!((mean - 5.0).abs() < 1e-9);
    }
}
