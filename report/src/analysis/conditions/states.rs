//! Two states of a volume that leaks at times: each rest leaks or is tight.

use super::super::estimate::Estimate;
use super::super::stats::quantile;

/// The two states and which rest is in which.
#[derive(Debug, Clone)]
pub(super) struct States {
    /// Loss of the tight state, ANR L/s.
    pub(super) tight: Estimate,
    /// Loss of the leaking state, ANR L/s.
    pub(super) leaking: Estimate,
    /// Probability of each rest to leak.
    pub(super) leaks: Vec<f64>,
    /// How much each rest says about it: many for one whose error is small
    /// against the difference of the states, none for one that cannot tell.
    pub(super) weights: Vec<f64>,
}

/// A rest this far beside both states is described by neither: share of such
/// rests, and how many times their errors are too small. A prior: common
/// practice, no source.
const STRAY: (f64, f64) = (0.02, 5.0);

/// A leak's own change with pressure and temperature, as a share of it.
const LEAK_VARIES: f64 = 0.25;

/// Two states must be likelier than one with a free spread by this much, as
/// twice the logarithm after the price of the additional parameter.
const PREFERRED: f64 = 10.0;

/// Rounds of estimation; they settle long before.
const ROUNDS: usize = 60;

/// Losses of rests whose errors are known as a mixture of two levels, by
/// expectation and maximisation. `None` when one level with a spread of its own
/// describes them as well.
///
/// **Source**: Dempster, Laird and Rubin 1977; Schwarz 1978 for the price of a
/// parameter (both from memory).
pub(super) fn two_states(losses: &[f64], squared_errors: &[f64]) -> Option<States> {
    let errors: Vec<f64> = squared_errors.iter().map(|v| v.sqrt()).collect();
    let least = quantile(&errors, 0.1)?.powi(2);
    let variances: Vec<f64> = squared_errors.iter().map(|v| v + least).collect();
    let best = starts(losses, &variances)
        .into_iter()
        .map(|start| settle(start, losses, &variances))
        .filter(|m| m.tight < m.leaking)
        .max_by(|a, b| {
            let of = |m: &Mixture| m.log_likelihood(losses, &variances);
            of(a).total_cmp(&of(b))
        })?;
    let one = one_level(losses, &variances)?;
    let gain = 2.0 * (best.log_likelihood(losses, &variances) - one);
    let states = best.states(losses, &variances);
    (gain - (losses.len() as f64).ln() > PREFERRED).then_some(states)
}

/// Levels and share of the leaking rests.
#[derive(Debug, Clone, Copy)]
struct Mixture {
    tight: f64,
    leaking: f64,
    share: f64,
}

impl Mixture {
    fn leaking_variance(&self, variance: f64) -> f64 {
        variance + (LEAK_VARIES * self.leaking).powi(2)
    }

    /// Densities of a loss in the tight and in the leaking state, weighed.
    fn densities(&self, loss: f64, variance: f64) -> (f64, f64) {
        (
            (1.0 - self.share) * density(loss - self.tight, variance),
            self.share * density(loss - self.leaking, self.leaking_variance(variance)),
        )
    }

    fn log_likelihood(&self, losses: &[f64], variances: &[f64]) -> f64 {
        let of = |(y, v): (&f64, &f64)| {
            let (tight, leaking) = self.densities(*y, *v);
            (tight + leaking).ln()
        };
        losses.iter().zip(variances).map(of).sum()
    }

    fn probabilities(&self, losses: &[f64], variances: &[f64]) -> Vec<f64> {
        let of = |(y, v): (&f64, &f64)| {
            let (tight, leaking) = self.densities(*y, *v);
            leaking / (tight + leaking)
        };
        losses.iter().zip(variances).map(of).collect()
    }

    fn states(&self, losses: &[f64], variances: &[f64]) -> States {
        let leaks = self.probabilities(losses, variances);
        let level = |value: f64, share: &dyn Fn(usize) -> f64, spread: f64| {
            let weight: f64 = (0..losses.len())
                .map(|i| share(i) / (variances[i] + spread))
                .sum();
            Estimate {
                value,
                se: weight.recip().sqrt(),
                degrees_of_freedom: ((0..losses.len()).map(share).sum::<f64>() - 1.0).max(1.0),
            }
        };
        let apart = (self.leaking - self.tight).powi(2);
        States {
            tight: level(self.tight, &|i| 1.0 - leaks[i], 0.0),
            leaking: level(
                self.leaking,
                &|i| leaks[i],
                (LEAK_VARIES * self.leaking).powi(2),
            ),
            weights: variances
                .iter()
                .map(|v| apart / (v + 0.25 * apart))
                .collect(),
            leaks,
        }
    }
}

/// Normal density with room for strays.
fn density(off: f64, variance: f64) -> f64 {
    let normal = |v: f64| (-0.5 * off * off / v).exp() / v.sqrt();
    let (share, wider) = STRAY;
    // Never nothing, so that its logarithm is a number.
    ((1.0 - share) * normal(variance) + share * normal(wider * wider * variance)).max(1e-300)
}

/// Where to begin: the tight state among the lower, the leaking one among the
/// higher of the clearer half of the rests.
fn starts(losses: &[f64], variances: &[f64]) -> Vec<Mixture> {
    let limit = quantile(variances, 0.5).unwrap_or(f64::INFINITY);
    let clear: Vec<f64> = losses
        .iter()
        .zip(variances)
        .filter(|(_, v)| **v <= limit)
        .map(|(y, _)| *y)
        .collect();
    let at = |q: f64| quantile(&clear, q).unwrap_or(0.0);
    [
        (0.25, 0.75),
        (0.1, 0.9),
        (0.4, 0.95),
        (0.5, 1.0),
        (0.05, 0.6),
    ]
    .into_iter()
    .map(|(low, high)| Mixture {
        tight: at(low),
        leaking: at(high),
        share: 0.3,
    })
    .collect()
}

fn settle(mut m: Mixture, losses: &[f64], variances: &[f64]) -> Mixture {
    for _ in 0..ROUNDS {
        let leaks = m.probabilities(losses, variances);
        let level = |share: &dyn Fn(usize) -> f64, variance: &dyn Fn(usize) -> f64, now: f64| {
            let (mut sum, mut total) = (0.0, 0.0);
            for (i, y) in losses.iter().enumerate() {
                let w = share(i) / variance(i);
                sum += w * y;
                total += w;
            }
            if total > 0.0 { sum / total } else { now }
        };
        m = Mixture {
            tight: level(&|i| 1.0 - leaks[i], &|i| variances[i], m.tight),
            leaking: level(
                &|i| leaks[i],
                &|i| m.leaking_variance(variances[i]),
                m.leaking,
            ),
            share: (leaks.iter().sum::<f64>() / leaks.len() as f64).clamp(0.01, 0.99),
        };
    }
    m
}

/// Log-likelihood of one level with the spread that suits it best.
fn one_level(losses: &[f64], variances: &[f64]) -> Option<f64> {
    let errors: Vec<f64> = variances.iter().map(|v| v.sqrt()).collect();
    let unit = quantile(&errors, 0.1)?;
    let of = |spread: f64| {
        let wider: Vec<f64> = variances.iter().map(|v| v + spread * spread).collect();
        let (sum, total) = losses
            .iter()
            .zip(&wider)
            .fold((0.0, 0.0), |a, (y, v)| (a.0 + y / v, a.1 + 1.0 / v));
        let level = sum / total;
        let each = losses
            .iter()
            .zip(&wider)
            .map(|(y, v)| density(y - level, *v).ln());
        each.sum::<f64>()
    };
    (0..24)
        .map(|k| of(if k == 0 { 0.0 } else { unit * 1.4_f64.powi(k) }))
        .max_by(f64::total_cmp)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented: rests with very different errors; the clear ones leak or hold.
    #[test]
    fn clear_rests_tell_the_states_and_vague_ones_do_not() {
        let mut losses = Vec::new();
        let mut variances = Vec::new();
        for i in 0..40 {
            let wobble = [0.5, -0.7, 0.2, 0.9, -0.9][i % 5];
            let se = if i % 2 == 0 { 0.05 } else { 3.0 };
            let leaks = i % 6 == 0;
            losses.push(if leaks { 1.0 } else { 0.0 } + wobble * se);
            variances.push(se * se);
        }
        let s = two_states(&losses, &variances).expect("two states");
        assert!(
            (s.leaking.value - 1.0).abs() < 0.1 && s.tight.value.abs() < 0.1,
            "{s:?}"
        );
        for i in (0..40).step_by(2) {
            assert_eq!(s.leaks[i] > 0.5, i % 6 == 0, "{i}");
            assert!(s.weights[i] > 10.0 * s.weights[i + 1]);
        }
    }

    #[test]
    fn one_level_with_its_errors_is_no_two_states() {
        let losses: Vec<f64> = (0..40)
            .map(|i| [0.5, -0.7, 0.2, 0.9, -0.9][i % 5])
            .collect();
        assert!(two_states(&losses, &[0.5; 40]).is_none());
    }
}
