//! Errors that are the same in every rest: no number of rests averages them out.

/// Error of a weighted sum `Σ wᵢ·xᵢ` from independent errors that are the same
/// in all xᵢ: `√Σₖ(Σᵢ wᵢ·vᵢₖ)²`, with vᵢₖ the change of xᵢ by one standard
/// deviation of error k. With weights that sum to one that of a mean, with
/// weights that sum to zero that of a difference.
///
/// **Units**: those of `vᵢₖ`.
///
/// **Source**: JCGM 100:2008, 5.2.2, correlated input quantities.
pub(crate) fn shared_error<'a>(parts: impl IntoIterator<Item = (f64, &'a [f64])>) -> f64 {
    let mut sums: Vec<f64> = Vec::new();
    for (weight, errors) in parts {
        sums.resize(sums.len().max(errors.len()), 0.0);
        for (sum, error) in sums.iter_mut().zip(errors) {
            *sum += weight * error;
        }
    }
    sums.iter().map(|s| s * s).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is the same in all stays in the mean and leaves the difference.
    #[test]
    fn a_mean_keeps_it_and_a_difference_does_not() {
        let (a, b) = ([3.0, 4.0], [3.0, 4.0]);
        assert!((shared_error([(0.5, &a[..]), (0.5, &b[..])]) - 5.0).abs() < 1e-12);
        assert!(shared_error([(1.0, &a[..]), (-1.0, &b[..])]).abs() < 1e-12);
        assert!(shared_error([]).abs() < 1e-12);
    }
}
