//! Bounds for counts.

/// Upper 95 % bound (one-sided) on the mean of a Poisson count: the mean for which
/// `count` or fewer have a probability of 5 %.
///
/// **Source**: F. Garwood, Biometrika 28 (1936).
pub(crate) fn poisson_upper_95(count: u64) -> f64 {
    let at_most = |mean: f64| -> f64 {
        let mut term = (-mean).exp();
        let mut sum = term;
        for k in 1..=count {
            term *= mean / k as f64;
            sum += term;
        }
        sum
    };
    bisect(0.0, 10.0 + 3.0 * count as f64, |mean| at_most(mean) > 0.05)
}

/// Two-sided 95 % interval of a share, exact.
///
/// **Source**: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934).
pub(crate) fn clopper_pearson_95(hits: u64, all: u64) -> (f64, f64) {
    if all == 0 {
        return (0.0, 1.0);
    }
    let low = if hits == 0 {
        0.0
    } else {
        bisect(0.0, 1.0, |p| {
            1.0 - binomial_at_most(hits - 1, all, p) < 0.025
        })
    };
    let high = if hits == all {
        1.0
    } else {
        bisect(0.0, 1.0, |p| binomial_at_most(hits, all, p) > 0.025)
    };
    (low, high)
}

/// Probability of `most` or fewer of `all`.
fn binomial_at_most(most: u64, all: u64, p: f64) -> f64 {
    if p <= 0.0 {
        return 1.0;
    }
    if p >= 1.0 {
        return f64::from(u8::from(most >= all));
    }
    let (ln_p, ln_q) = (p.ln(), (1.0 - p).ln());
    let mut ln_choose = 0.0;
    let mut sum = 0.0;
    for k in 0..=most {
        if k > 0 {
            ln_choose += ((all - k + 1) as f64).ln() - (k as f64).ln();
        }
        sum += (ln_choose + k as f64 * ln_p + (all - k) as f64 * ln_q).exp();
    }
    sum.min(1.0)
}

/// Where a condition stops to hold between two ends.
fn bisect(mut low: f64, mut high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// **Source**: tables of exact Poisson limits, one-sided 95 % (χ²₀.₉₅(2k+2)/2):
    /// 2.996, 4.744, 9.154 for 0, 1, 4 events.
    #[test]
    fn poisson_bound_agrees_with_the_table() {
        for (count, bound) in [(0, 2.9957), (1, 4.7439), (4, 9.1535)] {
            assert!((poisson_upper_95(count) - bound).abs() < 1e-3);
        }
    }

    /// **Source**: the beta quantiles of Clopper and Pearson's construction by
    /// `scipy.stats.beta.ppf` 1.11: 9 of 10 gives 0.5550 to 0.9975; none of 10, 0 to
    /// 0.3085.
    #[test]
    fn clopper_pearson_agrees_with_beta_quantiles() {
        let (low, high) = clopper_pearson_95(9, 10);
        assert!((low - 0.5550).abs() < 1e-4 && (high - 0.9975).abs() < 1e-4);
        let (low, high) = clopper_pearson_95(0, 10);
        assert!(low == 0.0 && (high - 0.3085).abs() < 1e-4);
    }
}
