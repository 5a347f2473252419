//! Scatter from one value to the next.

/// Mean moving range of two values over their standard deviation (d₂ of control
/// charts).
const D2_PAIRS: f64 = 1.128;

/// Standard deviation from one value to the next: mean moving range / 1.128.
/// Slow drift does not inflate it. `None` below two values.
///
/// **Source**: NIST/SEMATECH e-Handbook 6.3.2.2.
///
/// ```
/// use seep_report::analysis::stats::short_term_sd;
/// assert!((short_term_sd(&[1.0, 2.128, 1.0]).unwrap() - 1.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn short_term_sd(values: &[f64]) -> Option<f64> {
    let ranges: Vec<f64> = values.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    super::mean(&ranges).map(|r| r / D2_PAIRS)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST/SEMATECH e-Handbook 6.3.2.2 (published): ten batches, mean moving
    /// range 1.8778.
    #[test]
    fn moving_range_of_the_e_handbook() {
        let batches = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        let sd = short_term_sd(&batches).expect("ten");
        assert!((sd * 1.128 - 1.8778).abs() < 5e-5, "{sd}");
    }
}
