//! Mean, spread and quantiles of a slice.

/// Values less their mean.
#[must_use]
pub(crate) fn centred(values: &[f64]) -> Vec<f64> {
    let middle = mean(values).unwrap_or(0.0);
    values.iter().map(|v| v - middle).collect()
}

/// Arithmetic mean; `None` for no values.
///
/// The mean of the deviations from a first mean is added, which keeps the
/// digits when the values are large and their spread is small.
#[must_use]
pub fn mean(values: &[f64]) -> Option<f64> {
    let n = values.len() as f64;
    let first = values.iter().sum::<f64>() / n;
    let rest = values.iter().map(|v| v - first).sum::<f64>() / n;
    (!values.is_empty()).then_some(first + rest)
}

/// Sample standard deviation (n − 1); `None` for fewer than two values.
///
/// Corrected two-pass formula. **Source**: Chan, Golub, LeVeque, *Algorithms
/// for computing the sample variance*, The American Statistician 37 (1983),
/// eq. 1.7 (cited from memory).
#[must_use]
pub fn sd(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let n = values.len() as f64;
    let centre = mean(values)?;
    let squares: f64 = values.iter().map(|v| (v - centre).powi(2)).sum();
    let slip: f64 = values.iter().map(|v| v - centre).sum();
    Some(((squares - slip * slip / n) / (n - 1.0)).max(0.0).sqrt())
}

/// Quantile by linear interpolation between order statistics (the rule R
/// calls type 7), 0 ≤ p ≤ 1; `None` for no values or `p` out of range.
///
/// ```
/// use seep_report::analysis::stats::quantile;
/// assert_eq!(quantile(&[4.0, 1.0, 3.0, 2.0], 0.25), Some(1.75));
/// ```
#[must_use]
pub fn quantile(values: &[f64], p: f64) -> Option<f64> {
    if values.is_empty() || !(0.0..=1.0).contains(&p) {
        return None;
    }
    let mut work = values.to_vec();
    let place = p * (work.len() - 1) as f64;
    let below = place.floor() as usize;
    let (_, &mut low, above) = work.select_nth_unstable_by(below, f64::total_cmp);
    let share = place - below as f64;
    if share <= 0.0 {
        return Some(low);
    }
    let high = above.iter().copied().min_by(f64::total_cmp)?;
    Some(low + share * (high - low))
}

/// Median; `None` for no values.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// Median absolute deviation from the median times 1.4826, which estimates
/// the standard deviation of normal data; `None` for no values.
///
/// **Source**: the factor is 1/Φ⁻¹(3/4).
#[must_use]
pub fn robust_sd(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    let distances: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    median(&distances).map(|d| 1.482_602_218_505_602 * d)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_r_type_7() {
        // Source: R documentation of quantile(), definition 7, worked by hand.
        let v = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0];
        assert_eq!(quantile(&v, 0.0), Some(10.0));
        assert_eq!(quantile(&v, 1.0), Some(60.0));
        assert_eq!(quantile(&v, 0.1), Some(15.0));
        assert_eq!(median(&v), Some(35.0));
        assert_eq!(quantile(&v, 1.1), None);
        assert_eq!(quantile(&[], 0.5), None);
    }

    #[test]
    fn mad_is_not_moved_by_one_wild_value() {
        let calm = robust_sd(&[1.0, 2.0, 3.0, 4.0, 5.0]).unwrap();
        assert!((calm - 1.482_602).abs() < 1e-6);
        let wild = robust_sd(&[1.0, 2.0, 3.0, 4.0, 5e9]).unwrap();
        assert!((wild - calm).abs() < 1e-12);
    }

    #[test]
    fn too_little_data_is_none() {
        assert_eq!(mean(&[]), None);
        assert_eq!(sd(&[1.0]), None);
        assert_eq!(robust_sd(&[]), None);
    }
}
