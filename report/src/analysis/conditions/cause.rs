//! What a leak that comes and goes goes with: likelihoods of the conditions.

use super::candidate::Condition;
use super::separate::Sorted;
use super::states::States;

/// One explanation and its share of the likelihood; no condition: it comes and
/// goes by nothing that is recorded.
pub(super) type Cause = (Option<Condition>, f64);

/// Share of the rests in which a leak shows although its condition does not
/// hold: what is not recorded, and what is taken for a leak.
const BESIDE: f64 = 0.02;

/// How much more often the usual causes are met than any other; common
/// practice, no source.
const USUAL_ODDS: f64 = 3.0;

/// Probabilities to leak that are averaged over.
const STEPS: u32 = 40;

/// Shares of the conditions, largest first, by the likelihood of the states of
/// all rests: under a condition a rest leaks with an unknown probability,
/// averaged over, and otherwise hardly ever. A valve hangs at times; what cold,
/// height or pressure opens is open most times they hold.
///
/// **Source**: Bayes factors (Kass and Raftery 1995, from memory).
pub(super) fn causes(states: &States, families: &[Vec<Sorted>]) -> Vec<Cause> {
    let any = vec![Some(1.0); states.leaks.len()];
    let mut out: Vec<Cause> = vec![(None, marginal(states, &any, 1.0))];
    out.extend(
        families
            .iter()
            .filter_map(|family| of_family(states, family)),
    );
    let most = out.iter().map(|c| c.1).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = out.iter().map(|c| (c.1 - most).exp()).sum();
    for cause in &mut out {
        cause.1 = (cause.1 - most).exp() / total;
    }
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    out
}

/// The best condition of a family with the logarithm of the mean likelihood of
/// all its limits and of how often it is met.
fn of_family(states: &States, family: &[Sorted]) -> Option<Cause> {
    let each: Vec<f64> = family
        .iter()
        .map(|s| marginal(states, &s.shares, most_times(s.condition)))
        .collect();
    let best = (0..each.len()).max_by(|a, b| each[*a].total_cmp(&each[*b]))?;
    let mean = log_mean(&each);
    let odds = if family[best].condition.is_usual() {
        USUAL_ODDS
    } else {
        1.0
    };
    Some((Some(family[best].condition), mean + odds.ln()))
}

/// Exponent of the prior of the probability to leak under a condition,
/// `∝ q^(k−1)`: 1 for any, more for nearly always.
fn most_times(condition: Condition) -> f64 {
    match condition {
        Condition::AfterDump | Condition::AfterFill => 1.0,
        _ => 4.0,
    }
}

/// Logarithm of the likelihood of all rests, averaged over the probability to
/// leak under the condition.
fn marginal(states: &States, shares: &[Option<f64>], k: f64) -> f64 {
    let each: Vec<f64> = (0..STEPS)
        .map(|step| {
            // Equal shares of the prior.
            let q = ((f64::from(step) + 0.5) / f64::from(STEPS)).powf(1.0 / k);
            states
                .log_odds
                .iter()
                .zip(shares)
                .map(|(log_odds, share)| {
                    // A night that is cold in part may show either state.
                    let leaks = BESIDE + share.unwrap_or(0.5) * (q - BESIDE).max(0.0);
                    (1.0 - leaks + leaks * log_odds.exp()).ln()
                })
                .sum()
        })
        .collect();
    log_mean(&each)
}

/// Logarithm of the mean of exponentials.
fn log_mean(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().map(|l| (l - most).exp()).sum();
    most + (sum / logs.len() as f64).ln()
}

#[cfg(test)]
mod tests {
    use super::super::super::estimate::Estimate;
    use super::*;

    /// Invented: rests whose states are certain.
    fn states(leaks: &[bool]) -> States {
        let none = Estimate {
            value: 0.0,
            se: 1.0,
            degrees_of_freedom: 9.0,
        };
        States {
            tight: none,
            leaking: none,
            leaks: leaks.iter().map(|l| f64::from(u8::from(*l))).collect(),
            weights: vec![4.0; leaks.len()],
            log_odds: leaks
                .iter()
                .map(|l| if *l { 40.0 } else { -40.0 })
                .collect(),
        }
    }

    fn family(condition: Condition, holds: &[bool]) -> Vec<Sorted> {
        vec![Sorted {
            condition,
            shares: holds
                .iter()
                .map(|h| Some(f64::from(u8::from(*h))))
                .collect(),
        }]
    }

    /// By hand: 3 of 12 dumps hang, none of 12 fills. Uniform probabilities give
    /// B(4,10)·(1−ε)¹² against B(4,22).
    #[test]
    fn odds_are_those_of_beta_functions() {
        let leaks: Vec<bool> = (0..24).map(|i| i < 3).collect();
        let dumps: Vec<bool> = (0..24).map(|i| i < 12).collect();
        let found = causes(&states(&leaks), &[family(Condition::AfterDump, &dumps)]);
        let beta = |a: u32, b: u32| -> f64 {
            let factorial = |n: u32| (1..=n).map(f64::from).product::<f64>();
            factorial(a - 1) * factorial(b - 1) / factorial(a + b - 1)
        };
        let odds = USUAL_ODDS * beta(4, 10) * (1.0 - BESIDE).powi(12) / beta(4, 22);
        assert_eq!(found[0].0, Some(Condition::AfterDump));
        let of = found[0].1 / found[1].1;
        assert!((of / odds - 1.0).abs() < 0.05, "{of} {odds}");
    }

    /// What a height opens is open each time: a height at which it mostly holds
    /// is a worse reason than a valve that hangs at times.
    #[test]
    fn a_valve_may_hang_at_times_and_a_crease_may_not() {
        let leaks: Vec<bool> = (0..24).map(|i| i < 3).collect();
        let both: Vec<bool> = (0..24).map(|i| i < 12).collect();
        let found = causes(
            &states(&leaks),
            &[
                family(Condition::HeightBelow(-40.0), &both),
                family(Condition::AfterDump, &both),
            ],
        );
        assert_eq!(found[0].0, Some(Condition::AfterDump));
        assert!(found[0].1 > 0.9, "{found:?}");
    }
}
