//! How far the rests of one volume scatter, over what the model expects of them.
//!
//! The model adds up every disturbance that a rest may have. How many of them a car
//! really has, its rests show by how well they agree.

use super::plan::median;

/// The model's own expectation counts as so many rests. **Source**: judgement.
const MODEL_COUNTS_AS: f64 = 4.0;

/// A rest's own error is at least this share of its variance: what all rests of a
/// volume share is known no better.
const LEAST_OWN_SHARE: f64 = 0.1;

/// Error of one volume's rests in two parts: what all of them share, and the factor by
/// which the own part differs from what the model expects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scatter {
    shared_se: f64,
    factor: f64,
}

impl Scatter {
    /// Of rests as (conductance less what named leaks predict, standard error of the
    /// model), of which `shared_se` is common to all.
    ///
    /// Equation: `k² = (n·s² + n₀)/(n + n₀)`, `s` the root mean square of
    /// `(c − median c)/own`, each at most three robust standard deviations (a rest that
    /// leaks is none of the errors), `own² = se² − shared²`, `n₀` rests for the model.
    /// The tails count: weather without a thermometer has long ones.
    ///
    /// **Units**: those of the conductances. **Domain**: standard errors above 0.
    pub(super) fn new(rests: &[(f64, f64)], shared_se: f64) -> Self {
        let mut scatter = Self {
            shared_se,
            factor: 1.0,
        };
        let centre = median(rests.iter().map(|r| r.0).collect()).unwrap_or(0.0);
        let off: Vec<f64> = rests
            .iter()
            .map(|(c, se)| (c - centre).abs() / scatter.own(*se))
            .collect();
        let Some(middle) = median(off.clone()).filter(|m| m.is_finite()) else {
            return scatter;
        };
        let most = 3.0 * middle / 0.6745;
        let squares: f64 = off.iter().map(|z| z.min(most).powi(2)).sum();
        let n = rests.len() as f64;
        scatter.factor = ((squares + MODEL_COUNTS_AS) / (n + MODEL_COUNTS_AS)).sqrt();
        scatter
    }

    /// Standard error of one rest, given that of the model.
    pub(super) fn standard_error(&self, model_se: f64) -> f64 {
        let own = self.own(model_se);
        let shared = (model_se * model_se - own * own).max(0.0).sqrt();
        shared.hypot(self.factor * own)
    }

    fn own(&self, model_se: f64) -> f64 {
        let variance = model_se * model_se;
        let own = variance - self.shared_se * self.shared_se;
        own.max(LEAST_OWN_SHARE * variance).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::Scatter;

    /// Normal scores of 24 rests, times `sd`: invented, without chance.
    fn rests(sd: f64, se: f64) -> Vec<(f64, f64)> {
        use statrs::distribution::{ContinuousCDF, Normal};
        let normal = Normal::new(0.0, sd).unwrap();
        let rest = |i: i32| (normal.inverse_cdf((f64::from(i) + 0.5) / 24.0), se);
        (0..24).map(rest).collect()
    }

    #[test]
    fn rests_that_agree_better_than_expected_are_known_better() {
        let of = |sd: f64| Scatter::new(&rests(sd, 1.0), 0.0).standard_error(1.0);
        assert!((of(1.0) - 1.0).abs() < 0.05, "{}", of(1.0));
        // √((22.9/4 + 4)/28) and √((22.9·4 + 4)/28), 22.9 the squares of the scores.
        assert!((of(0.5) - 0.598).abs() < 0.03, "{}", of(0.5));
        assert!((of(2.0) - 1.86).abs() < 0.03, "{}", of(2.0));
    }

    #[test]
    fn what_all_rests_share_does_not_shrink_with_their_scatter() {
        let alike = Scatter::new(&rests(1e-3, 1.0), 0.8);
        assert!(alike.standard_error(1.0) > 0.8);
        assert!(alike.standard_error(1.0) < 0.9);
    }

    #[test]
    fn one_odd_rest_and_few_rests_change_little() {
        let mut odd = rests(1.0, 1.0);
        odd[3].0 = 40.0;
        assert!(Scatter::new(&odd, 0.0).standard_error(1.0) < 1.15);
        assert_eq!(Scatter::new(&[], 0.3).standard_error(1.0), 1.0);
        let one = Scatter::new(&[(5.0, 1.0)], 0.0).standard_error(1.0);
        assert!((one - (4.0_f64 / 5.0).sqrt()).abs() < 1e-12);
    }
}
