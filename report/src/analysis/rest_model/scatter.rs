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

/// Errors of the rests of all volumes of a car.
///
/// Equation: as [`Scatter::new`] with the model for the other volumes, then with those for each
/// volume: what disturbs one volume of a car disturbs the others as well.
pub(super) fn of_car(volumes: &[(Vec<(f64, f64)>, f64)]) -> Vec<Scatter> {
    let plain: Vec<(f64, f64)> = volumes
        .iter()
        .map(|(rests, shared)| {
            Scatter::with_model(*shared)
                .squares(rests)
                .unwrap_or_default()
        })
        .collect();
    let add = |sum: (f64, f64), one: &(f64, f64)| (sum.0 + one.0, sum.1 + one.1);
    let (squares, n) = plain.iter().fold((MODEL_COUNTS_AS, MODEL_COUNTS_AS), add);
    let pairs = volumes.iter().zip(&plain);
    pairs
        .map(|((rests, shared), own)| Scatter::new(rests, *shared, (squares - own.0) / (n - own.1)))
        .collect()
}

/// Error of one volume's rests in two parts: what all of them share, and the factor by
/// which the own part differs from what the model expects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scatter {
    shared_se: f64,
    factor: f64,
}

impl Scatter {
    fn with_model(shared_se: f64) -> Self {
        Self {
            shared_se,
            factor: 1.0,
        }
    }

    /// Of rests as (conductance less what named leaks predict, standard error of the
    /// model), of which `shared_se` is common to all; `others` is the square of the factor
    /// that is expected where they say nothing.
    ///
    /// Equation: `k² = (n·s² + n₀·k₀²)/(n + n₀)`, `s` the root mean square of
    /// `(c − median c)/own`, each at most three robust standard deviations (a rest that
    /// leaks is none of the errors), `own² = se² − shared²`, `n₀` rests for `k₀`.
    /// The tails count: weather without a thermometer has long ones.
    ///
    /// **Units**: those of the conductances. **Domain**: standard errors above 0.
    fn new(rests: &[(f64, f64)], shared_se: f64, others: f64) -> Self {
        let mut scatter = Self::with_model(shared_se);
        let (squares, n) = scatter.squares(rests).unwrap_or_default();
        scatter.factor = ((squares + MODEL_COUNTS_AS * others) / (n + MODEL_COUNTS_AS)).sqrt();
        scatter
    }

    /// Sum of the squares of the standardised distances, and the number of rests.
    fn squares(&self, rests: &[(f64, f64)]) -> Option<(f64, f64)> {
        let centre = median(rests.iter().map(|r| r.0).collect())?;
        let off: Vec<f64> = rests
            .iter()
            .map(|(c, se)| (c - centre).abs() / self.own(*se))
            .collect();
        let middle = median(off.clone()).filter(|m| m.is_finite())?;
        let most = 3.0 * middle / 0.6745;
        let squares = off.iter().map(|z| z.min(most).powi(2)).sum();
        Some((squares, rests.len() as f64))
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
        let of = |sd: f64| Scatter::new(&rests(sd, 1.0), 0.0, 1.0).standard_error(1.0);
        assert!((of(1.0) - 1.0).abs() < 0.05, "{}", of(1.0));
        // √((22.9/4 + 4)/28) and √((22.9·4 + 4)/28), 22.9 the squares of the scores.
        assert!((of(0.5) - 0.598).abs() < 0.03, "{}", of(0.5));
        assert!((of(2.0) - 1.86).abs() < 0.03, "{}", of(2.0));
    }

    #[test]
    fn what_all_rests_share_does_not_shrink_with_their_scatter() {
        let alike = Scatter::new(&rests(1e-3, 1.0), 0.8, 1.0);
        assert!(alike.standard_error(1.0) > 0.8);
        assert!(alike.standard_error(1.0) < 0.9);
    }

    #[test]
    fn one_odd_rest_and_few_rests_change_little() {
        let mut odd = rests(1.0, 1.0);
        odd[3].0 = 40.0;
        assert!(Scatter::new(&odd, 0.0, 1.0).standard_error(1.0) < 1.15);
        assert_eq!(Scatter::new(&[], 0.3, 1.0).standard_error(1.0), 1.0);
        let one = Scatter::new(&[(5.0, 1.0)], 0.0, 1.0).standard_error(1.0);
        assert!((one - (4.0_f64 / 5.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_volume_with_few_rests_learns_from_the_others_of_its_car() {
        let few = vec![(0.2, 1.0), (-0.2, 1.0), (0.1, 1.0)];
        let alone = super::of_car(&[(few.clone(), 0.0)])[0].standard_error(1.0);
        let calm: Vec<_> = std::iter::repeat_n((rests(0.4, 1.0), 0.0), 4).collect();
        let all: Vec<_> = calm.into_iter().chain([(few, 0.0)]).collect();
        let beside = super::of_car(&all)[4].standard_error(1.0);
        assert!(alone > 0.6 && beside < 0.45, "{alone} {beside}");
    }
}
