//! Detection limit of a hypothesis, from the very rule that names it.

use super::hypothesis::Hypothesis;
use super::model::Model;

/// Power of the printed limit, 95 %: one-sided normal quantile.
const POWER_Z: f64 = 1.645;

/// Returns the smallest conductance that would be named in 95 of 100 such logs.
///
/// Equation: `c* + 1.645·se`, c* the smallest estimate whose odds reach the threshold
/// and that is worth naming. `None` where no estimate in reach would be named.
pub(super) fn detection_limit(model: &Model<'_>, hypothesis: Hypothesis, se: f64) -> Option<f64> {
    let floor = model.plan.floor(hypothesis);
    let need = model.needed_ln_odds() - model.ln_prior(hypothesis);
    let named = |c: f64| c > floor && model.ln_bayes_factor(c, se, floor) > need;
    let (mut low, mut high) = (0.0, 60.0 * (se + floor));
    if !named(high) {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if named(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(high + POWER_Z * se)
}
