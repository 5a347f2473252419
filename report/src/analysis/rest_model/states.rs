//! Two states of one volume: rests that leak beside rests that hold.

use super::estimates::TwoStates;
use super::odds::ln_t4;
use super::plan::median;
use super::unrest::ln_sum_exp;

/// Gain over one state from which the intermittent loss is named: odds of 19 against
/// a prior of 0.005. **Source**: judgement.
const PRIOR: f64 = 0.005;
const ODDS: f64 = 19.0;
/// Shares of leaking rests that are tried.
const SHARES: [f64; 6] = [0.05, 0.1, 0.2, 0.35, 0.5, 0.7];
/// Conductances that are tried, and their range in floors.
const CONDUCTANCES: i32 = 60;
const LEAST_FLOORS: f64 = 2.0;
const MOST_FLOORS: f64 = 3000.0;
/// Leaking states need not be exactly alike.
const STATE_SPREAD: f64 = 0.3;
/// The standard errors of the model count as so many rests beside the scatter that the
/// rests themselves show. **Source**: judgement.
const MODEL_COUNTS_AS: f64 = 4.0;

/// One rest as the two-state model sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct StateRest {
    /// Index of the estimate.
    pub(super) index: usize,
    /// Conductance less what the named leaks predict.
    pub(super) c: f64,
    /// Standard error with the floor for errors that nobody modelled.
    pub(super) se: f64,
}

/// Fits two states (0 and d, share π) with t₄ errors of the width that the rests show:
/// their robust scatter over the model's errors, which of nights known by two ends are
/// several times too wide for each other, and at least what the largest *negative*
/// outlier needs: what is no leak scatters to both sides.
///
/// `steady` is the largest named steady leak of the volume. `None` with fewer than
/// four rests.
pub(super) fn two_states(rests: &[StateRest], floor: f64, steady: f64) -> Option<TwoStates> {
    if rests.len() < 4 {
        return None;
    }
    let width = width(rests);
    let sd: Vec<f64> = rests.iter().map(|r| r.se * width).collect();
    let tight = |shift: f64| -> Vec<f64> {
        let pairs = rests.iter().zip(&sd);
        pairs
            .map(|(r, s)| ln_t4((r.c - shift) / s) - s.ln())
            .collect()
    };
    let one_state = (-4..=4)
        .map(|k| tight(0.125 * f64::from(k) * floor).iter().sum::<f64>())
        .fold(f64::NEG_INFINITY, f64::max);
    let holding = tight(0.0);
    let (mut best, mut found) = (f64::NEG_INFINITY, None);
    for k in 0..CONDUCTANCES {
        let ratio = f64::from(k) / f64::from(CONDUCTANCES - 1);
        let d = LEAST_FLOORS * floor * (MOST_FLOORS / LEAST_FLOORS).powf(ratio);
        let leaking = leaking(rests, &sd, d);
        for share in SHARES {
            let sum: f64 = leaking
                .iter()
                .zip(&holding)
                .map(|(l, h)| both(share, *l, *h))
                .sum();
            if sum > best {
                best = sum;
                found = Some((d, share));
            }
        }
    }
    let (d, share) = found?;
    let probabilities: Vec<(usize, f64)> = rests
        .iter()
        .zip(leaking(rests, &sd, d).iter().zip(&holding))
        .map(|(r, (l, h))| (r.index, (share.ln() + l - both(share, *l, *h)).exp()))
        .collect();
    let occam = 0.5 * (f64::from(CONDUCTANCES) * SHARES.len() as f64).ln();
    let gain_nats = best - one_state - occam;
    let leaking_n = probabilities.iter().filter(|p| p.1 > 0.95).count();
    let tight_n = probabilities.iter().filter(|p| p.1 < 0.05).count();
    let clear = rests
        .iter()
        .zip(&probabilities)
        .any(|(r, p)| p.1 > 0.99 && r.c > LEAST_FLOORS * floor);
    let named = gain_nats > (ODDS / PRIOR).ln() && clear && tight_n >= 2 && steady <= 0.5 * d;
    Some(TwoStates {
        gain_nats,
        conductance: d,
        share,
        leaking: probabilities,
        leaking_and_tight: (leaking_n, tight_n),
        named,
    })
}

/// Width of the errors of rests that hold over those of the model.
///
/// Equation: `√((n·s² + n₀)/(n + n₀))`, `s` the median absolute deviation from the median
/// of `c/se` over 0.6745 (fewer than half of the rests leak), `n₀` rests for the model;
/// at least the largest negative `c/se` over 2.5.
fn width(rests: &[StateRest]) -> f64 {
    let z: Vec<f64> = rests.iter().map(|r| r.c / r.se).collect();
    let middle = median(z.clone()).unwrap_or(0.0);
    let off = z.iter().map(|z| (z - middle).abs()).collect();
    let scatter = median(off).unwrap_or(1.0) / 0.6745;
    let n = rests.len() as f64;
    let shared = ((n * scatter * scatter + MODEL_COUNTS_AS) / (n + MODEL_COUNTS_AS)).sqrt();
    let lowest = z.iter().copied().fold(0.0, f64::min);
    shared.max(-lowest / 2.5)
}

fn leaking(rests: &[StateRest], sd: &[f64], d: f64) -> Vec<f64> {
    rests
        .iter()
        .zip(sd)
        .map(|(r, s)| {
            let wide = s.hypot(STATE_SPREAD * d);
            let near = ln_t4((r.c - d) / s) - s.ln();
            let far = ln_t4((r.c - d) / wide) - wide.ln();
            near.max(far)
        })
        .collect()
}

/// ln of the mixture density of one rest.
fn both(share: f64, leaking: f64, holding: f64) -> f64 {
    ln_sum_exp([share.ln() + leaking, (1.0 - share).ln() + holding].into_iter())
}

#[cfg(test)]
mod tests {
    use super::{StateRest, two_states};

    /// Invented: tight nights about zero, leaking ones as given.
    fn nights(leaking: &[(usize, f64)]) -> Vec<StateRest> {
        (0..14)
            .map(|index| {
                let quiet = 0.1 * ((index * 7 % 5) as f64 - 2.0);
                let c = leaking.iter().find(|l| l.0 == index).map_or(quiet, |l| l.1);
                StateRest { index, c, se: 0.2 }
            })
            .collect()
    }

    #[test]
    fn two_of_fourteen_nights_are_named_and_the_nights_are_right() {
        let found = two_states(&nights(&[(3, 4.0), (9, 4.1)]), 0.1, 0.0).unwrap();
        assert!(found.named, "{found:?}");
        assert_eq!(found.leaking_and_tight, (2, 12));
        assert!((found.conductance - 4.05).abs() < 0.6, "{found:?}");
        assert!(
            found
                .leaking
                .iter()
                .all(|(i, p)| (*p > 0.95) == [3, 9].contains(i))
        );
    }

    /// Invented: the same nights, whose errors the model takes for three times too wide.
    #[test]
    fn nights_that_agree_better_than_their_errors_tell_a_smaller_leak() {
        let mut wide = nights(&[(3, 5.0), (9, 5.1)]);
        wide.iter_mut().for_each(|r| r.se = 0.6);
        assert!(two_states(&wide, 0.1, 0.0).unwrap().named);
        let mut uneven = wide.clone();
        for (i, r) in uneven.iter_mut().enumerate() {
            r.c += 1.5 * ((i * 5 % 7) as f64 - 3.0) / 3.0;
        }
        assert!(!two_states(&uneven, 0.1, 0.0).unwrap().named);
    }

    #[test]
    fn quiet_nights_and_outliers_on_both_sides_are_not_named() {
        assert!(!two_states(&nights(&[]), 0.1, 0.0).unwrap().named);
        let both = nights(&[(3, 4.0), (9, -4.1)]);
        assert!(!two_states(&both, 0.1, 0.0).unwrap().named);
        let steady = nights(&[(3, 4.0), (9, 4.1)]);
        assert!(!two_states(&steady, 0.1, 3.0).unwrap().named);
        assert!(two_states(&steady[..3], 0.1, 0.0).is_none());
    }
}
