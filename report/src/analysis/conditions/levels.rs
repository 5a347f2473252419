//! Loss with and without a condition, and from where on the two are told apart.

use super::super::estimate::Estimate;
use super::super::regression::{Term, regress_known};
use super::RestLoss;
use super::spread::shared_terms;

/// And when the loss it goes with, and its difference to the loss otherwise,
/// are this many standard errors.
pub(super) const NAMED_Z: f64 = 4.0;

/// Loss with and without a condition.
pub(super) struct Levels {
    pub(super) open: Estimate,
    pub(super) shut: Estimate,
    pub(super) apart: Estimate,
}

impl Levels {
    pub(super) fn are_apart(&self) -> bool {
        let clear = |e: &Estimate| e.value > NAMED_Z * e.se;
        clear(&self.open) && clear(&self.apart)
    }
}

/// Loss with and without the condition, and the difference, with the errors
/// shared by all rests as terms beside them.
pub(super) fn levels(x: &[Option<f64>], rests: &[RestLoss], variances: &[f64]) -> Option<Levels> {
    let known = |i: usize| x[i].is_some();
    let of_known = |f: &dyn Fn(usize) -> f64| -> Vec<f64> {
        (0..x.len()).filter(|i| known(*i)).map(f).collect()
    };
    let held = of_known(&|i| x[i].unwrap_or(0.0));
    let y = of_known(&|i| rests[i].l_per_s);
    let variances = of_known(&|i| variances[i]);
    let shared = shared_terms(rests, &known);
    let fit = |other: Vec<f64>| {
        let mut terms = vec![Term::free(held.clone()), Term::free(other)];
        terms.extend(shared.iter().cloned());
        let fit = regress_known(&terms, &y, &variances)?;
        Some([0, 1].map(|j| Estimate {
            value: fit.values[j],
            se: fit.standard_errors[j],
            degrees_of_freedom: fit.degrees_of_freedom,
        }))
    };
    let [open, shut] = fit(held.iter().map(|h| 1.0 - h).collect())?;
    let [apart, _] = fit(vec![1.0; held.len()])?;
    Some(Levels { open, shut, apart })
}
