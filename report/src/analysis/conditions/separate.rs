//! The test: loss against the share of the rest over which a condition held.

use super::super::estimate::Estimate;
use super::super::stats::holm;
use super::RestLoss;
use super::candidate::{Condition, families};
use super::cause::{Cause, causes};
use super::levels::{NAMED_Z, levels};
use super::shuffle::{both_sorts, explained, sharp, shuffled_p};
use super::spread::{variances, without_shared};
use super::states::{Losses, States, two_states};

/// A leak with its condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditional {
    /// Circuit, or `tank`.
    pub place: String,
    /// When it leaks; `None`: nothing recorded goes with it.
    pub condition: Option<Condition>,
    /// Loss while the condition holds, ANR L/s.
    pub open_l_per_s: Estimate,
    /// Loss while it does not.
    pub shut_l_per_s: Estimate,
    /// p value of the condition by permutation, after Holm's correction for all
    /// conditions looked at; 1 without a condition.
    pub p: f64,
    /// Explanations with their shares of the likelihood, the likeliest first.
    pub causes: Vec<(Option<Condition>, f64)>,
    /// Share of the variance of the losses that the condition explains.
    pub explained: Option<f64>,
    /// Rests with and without the condition.
    pub rests: Option<(usize, usize)>,
    /// Rests that leak and rests that hold, of those that can tell.
    pub certain: Option<(usize, usize)>,
}

/// A condition is named below this corrected p value.
const NAMED_P: f64 = 0.01;

/// While the condition does not hold, at most this share of the loss is left.
const SHUT_SHARE: f64 = 0.35;

/// A usual cause is believed when it explains nearly as much as any other: a car
/// that is aired out lies low after a dump, and the dump is the cause.
const USUAL: f64 = 1.25;

/// Rests needed of either sort.
pub(super) const FEWEST: usize = 3;

/// The condition under which a volume leaks, if one survives. `floor_l_per_s`
/// is the least loss worth a word.
///
/// Each condition is tested by the share of variance it explains, against the
/// same after shuffling the losses over the rests; Holm's correction covers all
/// conditions looked at. A rest counts by its own error and by the spread
/// between rests that even the best condition leaves. What the errors shared by
/// all rests (volume, temperature) can explain is taken off before.
///
/// **Source**: Fisher, The Design of Experiments; Holm 1979.
#[must_use]
pub fn condition_of(place: &str, rests: &[RestLoss], floor_l_per_s: f64) -> Option<Conditional> {
    let families: Vec<Vec<Sorted>> = families(place, rests)
        .iter()
        .map(|family| sorted(family, rests))
        .collect();
    let variances = variances(rests, &families);
    let losses = without_shared(rests, &variances)?;
    let mut tests: Vec<(Tested, f64)> = families
        .iter()
        .enumerate()
        .filter_map(|(i, family)| test(rests, &losses, &variances, family, i as u64))
        .collect();
    let as_fitted: Vec<f64> = rests.iter().map(|r| r.l_per_s).collect();
    let own: Vec<f64> = rests.iter().map(|r| r.own_se * r.own_se).collect();
    let shared: Vec<&[f64]> = rests.iter().map(|r| &r.shared_errors_l_per_s[..]).collect();
    let all = Losses {
        l_per_s: &as_fitted,
        own_variance: &own,
        shared: &shared,
    };
    let states = two_states(all);
    if let Some(states) = &states {
        let each = families.iter().enumerate();
        tests.extend(each.filter_map(|(i, family)| test_states(states, family, i as u64)));
    }
    let p: Vec<f64> = holm(&tests.iter().map(|t| t.1).collect::<Vec<_>>());
    let tested: Vec<(Tested, f64)> = tests.into_iter().map(|t| t.0).zip(p).collect();
    let shares = match &states {
        Some(states) => causes(states, &families),
        None => by_variance(&tested, rests.len(), floor_l_per_s),
    };
    let survives = |(t, p): &&(Tested, f64)| *p < NAMED_P && t.survives(floor_l_per_s);
    let share = |t: &Tested| {
        let own = shares.iter().find(|c| c.0 == Some(t.condition));
        own.map_or(0.0, |c| c.1)
    };
    let best = tested
        .iter()
        .filter(survives)
        .max_by(|a, b| share(&a.0).total_cmp(&share(&b.0)));
    match (best, &states) {
        (Some((best, p)), _) => Some(Conditional {
            place: place.into(),
            condition: Some(best.condition),
            open_l_per_s: best.open,
            shut_l_per_s: best.shut,
            p: *p,
            explained: Some(best.explained),
            rests: Some(best.rests),
            certain: states.as_ref().map(States::certain),
            causes: shares,
        }),
        (None, Some(states)) if states.are_clear(floor_l_per_s) => {
            let condition = shares.first()?.0;
            let of_it = tested.iter().find(|t| Some(t.0.condition) == condition);
            Some(Conditional {
                place: place.into(),
                condition,
                open_l_per_s: states.leaking,
                shut_l_per_s: states.tight,
                p: of_it.map_or(1.0, |t| t.1),
                explained: of_it.map(|t| t.0.explained),
                rests: of_it.map(|t| t.0.rests),
                certain: Some(states.certain()),
                causes: shares,
            })
        }
        _ => None,
    }
}

/// Shares of the conditions that survive by the variance they explain.
///
/// `L₁/L₂ = ((1 − R₂²)/(1 − R₁²))^(n/2)`, normal errors, all with the same
/// number of parameters. **Source**: likelihood of a linear model with its
/// variance fitted (from memory).
fn by_variance(tested: &[(Tested, f64)], rests: usize, floor_l_per_s: f64) -> Vec<Cause> {
    let mut out: Vec<Cause> = tested
        .iter()
        .filter(|(t, p)| *p < NAMED_P && t.survives(floor_l_per_s))
        .map(|(t, _)| {
            let usual = if t.condition.is_usual() { USUAL } else { 1.0 };
            let left = (1.0 - (t.explained * usual).min(1.0)).max(1e-6);
            (Some(t.condition), -0.5 * rests as f64 * left.ln())
        })
        .collect();
    let most = out.iter().map(|c| c.1).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = out.iter().map(|c| (c.1 - most).exp()).sum();
    for cause in &mut out {
        cause.1 = (cause.1 - most).exp() / total;
    }
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    out
}

/// A condition with the share of each rest over which it held.
pub(super) struct Sorted {
    pub(super) condition: Condition,
    pub(super) shares: Vec<Option<f64>>,
}

/// The conditions of a family that hold in some rests and not in others.
fn sorted(family: &[Condition], rests: &[RestLoss]) -> Vec<Sorted> {
    family
        .iter()
        .map(|c| Sorted {
            condition: *c,
            shares: rests.iter().map(|r| c.share(r)).collect(),
        })
        .filter(|s| both_sorts(&s.shares).is_some())
        .collect()
}

/// The best condition of a family.
struct Tested {
    condition: Condition,
    open: Estimate,
    shut: Estimate,
    explained: f64,
    rests: (usize, usize),
    /// The levels are apart beyond their errors.
    is_clear: bool,
}

impl Tested {
    fn survives(&self, floor_l_per_s: f64) -> bool {
        self.is_clear
            && self.open.value > floor_l_per_s
            && self.shut.value < SHUT_SHARE * self.open.value
            && self.rests.0 >= FEWEST
            && self.rests.1 >= FEWEST
    }
}

/// The condition of a family that explains most of the variance, and how much.
fn best<'a>(family: &'a [Sorted], y: &[f64], weights: &[f64]) -> Option<(&'a Sorted, f64)> {
    family
        .iter()
        .filter_map(|s| Some((s, sharp(&s.shares) * explained(&s.shares, y, weights)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

/// The same for a volume with two states: does a condition part the rests that
/// leak from those that hold? A valve that hangs only now and then leaks in some
/// of its rests; their mean says little.
fn test_states(states: &States, family: &[Sorted], seed: u64) -> Option<(Tested, f64)> {
    let (sorted, share) = best(family, &states.leaks, &states.weights)?;
    if share <= 0.0 {
        return None;
    }
    let is_clear = states.are_apart(NAMED_Z)
        && states.certain().0 >= FEWEST
        && leaks_without(states, &sorted.shares) < SHUT_SHARE / 2.0;
    let p = if is_clear {
        shuffled_p(&states.leaks, &states.weights, share, seed, &|l, w| {
            best(family, l, w).map_or(0.0, |b| b.1)
        })
    } else {
        1.0
    };
    let tested = Tested {
        condition: sorted.condition,
        open: states.leaking,
        shut: states.tight,
        explained: share,
        rests: both_sorts(&sorted.shares)?,
        is_clear,
    };
    Some((tested, p))
}

/// Share of the rests without the condition that leak, those counted most that
/// can tell.
fn leaks_without(states: &States, x: &[Option<f64>]) -> f64 {
    let (mut sum, mut total) = (0.0, 0.0);
    for ((x, p), w) in x.iter().zip(&states.leaks).zip(&states.weights) {
        let w = w * x.map_or(0.0, |x| 1.0 - x);
        sum += w * p;
        total += w;
    }
    if total > 0.0 { sum / total } else { 0.0 }
}

/// The best condition of a family and its p value before any correction.
fn test(
    rests: &[RestLoss],
    losses: &[f64],
    variances: &[f64],
    family: &[Sorted],
    seed: u64,
) -> Option<(Tested, f64)> {
    let weights: Vec<f64> = variances.iter().map(|v| 1.0 / v).collect();
    let (sorted, share) = best(family, losses, &weights)?;
    if share <= 0.0 {
        return None;
    }
    let levels = levels(&sorted.shares, rests, variances)?;
    // What no shuffle will make into a claim need not be shuffled.
    let p = if levels.are_apart() {
        shuffled_p(losses, &weights, share, seed, &|l, w| {
            best(family, l, w).map_or(0.0, |b| b.1)
        })
    } else {
        1.0
    };
    let tested = Tested {
        condition: sorted.condition,
        is_clear: levels.are_apart(),
        open: levels.open,
        shut: levels.shut,
        explained: share,
        rests: both_sorts(&sorted.shares)?,
    };
    Some((tested, p))
}

#[cfg(test)]
mod tests {
    use super::super::super::segment::LastMove;
    use super::*;

    fn rest(i: usize, loss: f64, celsius: f64, after: LastMove) -> RestLoss {
        let wobble = [0.3, -0.5, 0.1, 0.6, -0.4, -0.1][i % 6] * 1e-6;
        RestLoss {
            l_per_s: loss + wobble,
            se: 5e-7,
            own_se: 5e-7,
            after,
            celsius: (0..24).map(|k| celsius + 0.1 * f64::from(k)).collect(),
            kpa_abs: 600.0 + (i * 7 % 5) as f64,
            mm: (i * 3 % 7) as f64,
            shared_errors_l_per_s: Vec::new(),
        }
    }

    fn sort(i: usize) -> LastMove {
        if i.is_multiple_of(2) {
            LastMove::Fill
        } else {
            LastMove::Dump
        }
    }

    #[test]
    fn a_leak_of_cold_rests_is_named_cold() {
        let rests: Vec<RestLoss> = (0..24)
            .map(|i| {
                let cold = i % 3 == 0;
                rest(
                    i,
                    if cold { 3e-5 } else { 0.0 },
                    if cold { -2.0 } else { 11.0 },
                    sort(i),
                )
            })
            .collect();
        let found = condition_of("front_left", &rests, 1e-6).expect("a condition");
        assert!(matches!(found.condition, Some(Condition::Colder(c)) if (-2.0..12.0).contains(&c)));
        assert!((found.open_l_per_s.value - 3e-5).abs() < 2e-6);
        assert_eq!(found.rests, Some((8, 16)));
        assert_eq!(found.certain, Some((8, 16)));
    }

    #[test]
    fn a_valve_that_hangs_after_some_dumps_is_named_so() {
        let rests: Vec<RestLoss> = (0..30)
            .map(|i| {
                let hangs = i % 2 == 1 && i % 5 != 1;
                rest(
                    i,
                    if hangs { 2e-5 } else { 0.0 },
                    (i * 5 % 11) as f64,
                    sort(i),
                )
            })
            .collect();
        let found = condition_of("front_left", &rests, 1e-6).expect("a condition");
        assert_eq!(found.condition, Some(Condition::AfterDump));
    }

    #[test]
    fn a_steady_leak_and_a_tight_volume_have_no_condition() {
        for loss in [0.0, 3e-5] {
            let rests: Vec<RestLoss> = (0..30)
                .map(|i| rest(i, loss, (i * 5 % 11) as f64, sort(i)))
                .collect();
            assert_eq!(condition_of("front_left", &rests, 1e-6), None);
        }
    }
}
