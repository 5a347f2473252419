//! Serial correlation and what it leaves of the sample size.

use super::mean;

/// Lag-1 autocorrelation coefficient,
/// r₁ = Σ (vᵢ − v̄)(vᵢ₊₁ − v̄) / Σ (vᵢ − v̄)².
///
/// `None` for fewer than three values or no spread.
/// **Source**: NIST/SEMATECH e-Handbook 1.3.5.12.
#[must_use]
pub fn lag1_autocorrelation(values: &[f64]) -> Option<f64> {
    if values.len() < 3 {
        return None;
    }
    let centre = mean(values)?;
    let below: f64 = values.iter().map(|v| (v - centre).powi(2)).sum();
    let above: f64 = values
        .windows(2)
        .map(|w| (w[0] - centre) * (w[1] - centre))
        .sum();
    (below > 0.0).then(|| above / below)
}

/// Number of independent values that `n` values with lag-1 autocorrelation
/// `r1` are worth when the correlation is AR(1):
/// n·(1 − r₁)/(1 + r₁), between 1 and `n`.
///
/// A negative `r1` counts as none: a smaller interval is not claimed from it.
/// **Source**: Santer et al., J. Geophys. Res. 105 (2000) 7337, eq. 6 (cited
/// from memory).
///
/// ```
/// use seep_report::analysis::stats::effective_sample_size;
/// assert!((effective_sample_size(300, 0.5) - 100.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn effective_sample_size(n: usize, r1: f64) -> f64 {
    let n = n as f64;
    let r1 = if r1.is_nan() { 0.0 } else { r1.clamp(0.0, 1.0) };
    (n * (1.0 - r1) / (1.0 + r1)).max(1.0_f64.min(n))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alternating_values_are_anticorrelated() {
        // NIST StRD univariate set NumAcc1: certified lag-1 coefficient −0.5.
        let r1 = lag1_autocorrelation(&[10_000_001.0, 10_000_003.0, 10_000_002.0]).unwrap();
        assert!((r1 + 0.5).abs() < 1e-12);
    }

    #[test]
    fn no_spread_has_no_correlation() {
        assert_eq!(lag1_autocorrelation(&[3.0; 9]), None);
        assert_eq!(lag1_autocorrelation(&[3.0, 4.0]), None);
    }

    #[test]
    fn effective_size_stays_between_one_and_n() {
        assert!((effective_sample_size(50, -0.8) - 50.0).abs() < 1e-12);
        assert!((effective_sample_size(50, 0.999_999) - 1.0).abs() < 1e-12);
        assert!((effective_sample_size(50, f64::NAN) - 50.0).abs() < 1e-12);
        assert!(effective_sample_size(0, 0.2).abs() < 1e-12);
    }
}
