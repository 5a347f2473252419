//! Two states of one volume: rests that leak beside rests that hold.

use super::estimates::TwoStates;
use super::odds::ln_t4;
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
/// A rest across a silence longer than this counts as twice as uncertain, s.
const LONG_SILENCE_S: f64 = 1800.0;

/// One rest as the two-state model sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct StateRest {
    /// Index of the estimate.
    pub(super) index: usize,
    /// Conductance less what the named leaks predict.
    pub(super) c: f64,
    /// Standard error with the floor for errors that nobody modelled.
    pub(super) se: f64,
    pub(super) longest_silence_s: f64,
}

/// Fits two states (0 and d, share π) with t₄ errors, widened by the largest
/// *negative* outlier: what is no leak scatters to both sides.
///
/// `steady` is the largest named steady leak of the volume. `None` with fewer than
/// four rests.
pub(super) fn two_states(rests: &[StateRest], floor: f64, steady: f64) -> Option<TwoStates> {
    if rests.len() < 4 {
        return None;
    }
    let lowest = rests.iter().map(|r| r.c / r.se).fold(0.0, f64::min);
    let wide = (-lowest / 2.5).max(1.0);
    let sd: Vec<f64> = rests
        .iter()
        .map(|r| {
            let bridged = r.longest_silence_s > LONG_SILENCE_S;
            r.se * wide * if bridged { 2.0 } else { 1.0 }
        })
        .collect();
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
                StateRest {
                    index,
                    c,
                    se: 0.2,
                    longest_silence_s: 60.0,
                }
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
