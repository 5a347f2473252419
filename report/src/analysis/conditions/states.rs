//! Two states of a volume that leaks at times: each rest leaks or is tight.

use super::super::estimate::Estimate;
use super::super::stats::quantile;
use nalgebra::{DMatrix, DVector};

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
    /// Logarithm of how much likelier the loss of each rest is when it leaks.
    pub(super) log_odds: Vec<f64>,
}

/// A rest is in a state for certain beyond this probability.
const CERTAIN: f64 = 0.9;

/// Certain rests of either state that make a leak that comes and goes.
const FEWEST: usize = 3;

/// Standard errors that its level is above nothing and above the tight level.
const CLEAR_Z: f64 = 6.0;

/// Share of the loss that the tight state may keep.
const TIGHT_SHARE: f64 = 0.35;

impl States {
    /// Rests that leak and rests that hold for certain.
    pub(super) fn certain(&self) -> (usize, usize) {
        let leak = self.leaks.iter().filter(|p| **p > CERTAIN).count();
        let hold = self.leaks.iter().filter(|p| **p < 1.0 - CERTAIN).count();
        (leak, hold)
    }

    /// The levels are this many standard errors apart, and the higher one that
    /// many above nothing.
    pub(super) fn are_apart(&self, z: f64) -> bool {
        let (tight, leaking) = (self.tight, self.leaking);
        leaking.value > z * leaking.se
            && leaking.value - tight.value > z * leaking.se.hypot(tight.se)
    }

    /// Some rests leak and some hold, beyond doubt, whatever the reason.
    pub(super) fn are_clear(&self, floor_l_per_s: f64) -> bool {
        let (leak, hold) = self.certain();
        self.are_apart(CLEAR_Z)
            && leak >= FEWEST
            && hold >= FEWEST
            && self.leaking.value > floor_l_per_s
            && self.tight.value < TIGHT_SHARE * self.leaking.value
    }
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

/// Steps smaller than this, in standard errors or shares, are none.
const STILL: f64 = 1e-5;

/// The same for a single level, where only strays are told from the others.
const ONE_LEVEL_ROUNDS: usize = 4;

/// Losses of rests with what is known of their errors.
#[derive(Debug, Clone, Copy)]
pub(super) struct Losses<'a> {
    /// Loss of each rest, ANR L/s.
    pub(super) l_per_s: &'a [f64],
    /// Variance of each rest's own error.
    pub(super) own_variance: &'a [f64],
    /// Change of each loss by one standard deviation of every error that all
    /// rests share.
    pub(super) shared: &'a [&'a [f64]],
}

/// Losses of rests as a mixture of two levels, beside the errors that all rests
/// share, by expectation and maximisation. `None` when one level with a spread
/// of its own describes them as well.
///
/// **Source**: Dempster, Laird and Rubin 1977; Schwarz 1978 for the price of a
/// parameter (both from memory).
pub(super) fn two_states(losses: Losses) -> Option<States> {
    let errors: Vec<f64> = losses.own_variance.iter().map(|v| v.sqrt()).collect();
    let least = quantile(&errors, 0.1)?.powi(2);
    let variances: Vec<f64> = losses.own_variance.iter().map(|v| v + least).collect();
    let losses = Losses {
        own_variance: &variances,
        ..losses
    };
    let one = one_level(losses)?;
    let best = starts(losses, &one)
        .into_iter()
        .filter_map(|start| settle(start, losses))
        .filter(|s| s.mixture.tight < s.mixture.leaking)
        .max_by(|a, b| a.log_likelihood.total_cmp(&b.log_likelihood))?;
    let gain = 2.0 * (best.log_likelihood - one.log_likelihood);
    let price = (losses.l_per_s.len() as f64).ln();
    (gain - price > PREFERRED).then(|| best.states(losses))
}

/// Levels, share of the leaking rests, and the errors all rests share in their
/// standard deviations.
#[derive(Debug, Clone)]
struct Mixture {
    tight: f64,
    leaking: f64,
    share: f64,
    shared: Vec<f64>,
}

impl Mixture {
    /// Nothing moved that could be seen beside the errors of the levels.
    fn is_near(&self, other: &Mixture, errors: [f64; 2]) -> bool {
        let levels = [self.tight - other.tight, self.leaking - other.leaking];
        let moved = levels.iter().zip(errors).map(|(by, se)| (by / se).abs());
        let shared = self.shared.iter().zip(&other.shared);
        moved
            .chain([(self.share - other.share).abs()])
            .chain(shared.map(|(a, b)| (a - b).abs()))
            .all(|by| by < STILL)
    }

    fn leaking_variance(&self, variance: f64) -> f64 {
        variance + (LEAK_VARIES * self.leaking).powi(2)
    }

    /// What is left of a loss without the shared errors.
    fn cleaned(&self, losses: Losses, i: usize) -> f64 {
        losses.l_per_s[i] - dot(losses.shared[i], &self.shared)
    }

    /// Of a rest: densities in the tight and in the leaking state.
    fn densities(&self, losses: Losses, i: usize) -> [Density; 2] {
        let (loss, variance) = (self.cleaned(losses, i), losses.own_variance[i]);
        [
            Density::of(loss - self.tight, variance),
            Density::of(loss - self.leaking, self.leaking_variance(variance)),
        ]
    }

    /// Each rest's probability to leak, and how much a level of either state
    /// counts it: its probability to be in that state over its variance there,
    /// that of strays being much larger.
    fn expectations(&self, losses: Losses) -> Vec<Expectation> {
        let of = |i: usize| {
            let [tight, leaking] = self.densities(losses, i);
            let (t, l) = ((1.0 - self.share) * tight.value, self.share * leaking.value);
            let leaks = l / (t + l);
            Expectation {
                leaks,
                precisions: [(1.0 - leaks) * tight.precision, leaks * leaking.precision],
                log_odds: (leaking.value / tight.value).ln(),
                log_likelihood: (t + l).ln(),
            }
        };
        (0..losses.l_per_s.len()).map(of).collect()
    }
}

/// What one rest says under a mixture.
struct Expectation {
    leaks: f64,
    precisions: [f64; 2],
    /// Logarithm of how much likelier its loss is when it leaks.
    log_odds: f64,
    log_likelihood: f64,
}

/// A normal density with room for strays.
#[derive(Debug, Clone, Copy)]
struct Density {
    value: f64,
    /// Mean of 1/variance over the ordinary and the stray part.
    precision: f64,
}

impl Density {
    fn of(off: f64, variance: f64) -> Self {
        let normal = |v: f64| (-0.5 * off * off / v).exp() / v.sqrt();
        let (share, wider) = (STRAY.0, STRAY.1 * STRAY.1 * variance);
        let (near, far) = ((1.0 - share) * normal(variance), share * normal(wider));
        // Never nothing, so that its logarithm is a number.
        let value = (near + far).max(1e-300);
        Density {
            value,
            precision: (near / variance + far / wider) / value,
        }
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// A mixture that no longer changes.
struct Settled {
    mixture: Mixture,
    log_likelihood: f64,
    /// Standard errors of the tight and the leaking level.
    errors: [f64; 2],
}

impl Settled {
    fn states(&self, losses: Losses) -> States {
        let m = &self.mixture;
        let each = m.expectations(losses);
        let level = |value: f64, se: f64, share: &dyn Fn(&Expectation) -> f64| Estimate {
            value,
            se,
            degrees_of_freedom: (each.iter().map(share).sum::<f64>() - 1.0).max(1.0),
        };
        let apart = (m.leaking - m.tight).powi(2);
        let variances = losses.own_variance.iter();
        States {
            tight: level(m.tight, self.errors[0], &|e| 1.0 - e.leaks),
            leaking: level(m.leaking, self.errors[1], &|e| e.leaks),
            weights: variances.map(|v| apart / (v + 0.25 * apart)).collect(),
            leaks: each.iter().map(|e| e.leaks).collect(),
            log_odds: each.iter().map(|e| e.log_odds).collect(),
        }
    }
}

/// Where to begin: the tight state among the lower, the leaking one among the
/// higher of the clearer half of the rests, as they are and without the shared
/// errors that one level sees in them.
fn starts(losses: Losses, one: &Settled) -> Vec<Mixture> {
    let limit = quantile(losses.own_variance, 0.5).unwrap_or(f64::INFINITY);
    let mut out = Vec::new();
    for shared in [
        vec![0.0; one.mixture.shared.len()],
        one.mixture.shared.clone(),
    ] {
        let clear: Vec<f64> = (0..losses.l_per_s.len())
            .filter(|i| losses.own_variance[*i] <= limit)
            .map(|i| losses.l_per_s[i] - dot(losses.shared[i], &shared))
            .collect();
        let at = |q: f64| quantile(&clear, q).unwrap_or(0.0);
        let pairs = [
            (0.25, 0.75),
            (0.1, 0.9),
            (0.4, 0.95),
            (0.5, 1.0),
            (0.05, 0.6),
        ];
        out.extend(pairs.map(|(low, high)| Mixture {
            tight: at(low),
            leaking: at(high),
            share: 0.3,
            shared: shared.clone(),
        }));
    }
    out
}

fn settle(mut mixture: Mixture, losses: Losses) -> Option<Settled> {
    let mut errors = [0.0; 2];
    for _ in 0..ROUNDS {
        let each = mixture.expectations(losses);
        let precisions: Vec<[f64; 2]> = each.iter().map(|e| e.precisions).collect();
        let levels = Levels::solve(losses, &precisions)?;
        let leaking = each.iter().map(|e| e.leaks).sum::<f64>() / each.len() as f64;
        errors = [levels.errors[0], levels.errors[1]];
        let next = Mixture {
            tight: levels.values[0],
            leaking: levels.values[1],
            share: leaking.clamp(0.01, 0.99),
            shared: levels.values[2..].to_vec(),
        };
        let has_settled = next.is_near(&mixture, errors);
        mixture = next;
        if has_settled {
            break;
        }
    }
    let each = mixture.expectations(losses);
    let prior = 0.5 * dot(&mixture.shared, &mixture.shared);
    Some(Settled {
        log_likelihood: each.iter().map(|e| e.log_likelihood).sum::<f64>() - prior,
        mixture,
        errors,
    })
}

/// Levels of the states and sizes of the shared errors, which are one standard
/// deviation or thereabouts.
struct Levels {
    values: Vec<f64>,
    errors: Vec<f64>,
}

impl Levels {
    /// Least squares with the precisions of each rest in each state.
    fn solve<const N: usize>(losses: Losses, precisions: &[[f64; N]]) -> Option<Levels> {
        let shared = losses.shared.first()?.len();
        // Scaled, since losses are tiny beside standard deviations.
        let total: f64 = precisions.iter().flatten().sum();
        let unit = (precisions.len() as f64 / total).sqrt();
        let size = N + shared;
        let mut a = DMatrix::<f64>::zeros(size, size);
        let mut b = DVector::<f64>::zeros(size);
        for (i, states) in precisions.iter().enumerate() {
            for (state, precision) in states.iter().enumerate() {
                let mut x = vec![0.0; size];
                x[state] = unit;
                x[N..].copy_from_slice(losses.shared[i]);
                for j in 0..size {
                    b[j] += precision * x[j] * losses.l_per_s[i];
                    for k in 0..size {
                        a[(j, k)] += precision * x[j] * x[k];
                    }
                }
            }
        }
        for j in 0..size {
            // A state without rests keeps to nothing.
            a[(j, j)] += if j < N { 1e-9 } else { 1.0 };
        }
        let inverse = a.cholesky()?.inverse();
        let scale = |j: usize| if j < N { unit } else { 1.0 };
        let values = &inverse * b;
        Some(Levels {
            values: (0..size).map(|j| values[j] * scale(j)).collect(),
            errors: (0..size)
                .map(|j| inverse[(j, j)].sqrt() * scale(j))
                .collect(),
        })
    }
}

/// One level with the spread that suits it best.
fn one_level(losses: Losses) -> Option<Settled> {
    let errors: Vec<f64> = losses.own_variance.iter().map(|v| v.sqrt()).collect();
    let unit = quantile(&errors, 0.1)?;
    let of = |spread: f64| -> Option<Settled> {
        let wider: Vec<f64> = losses
            .own_variance
            .iter()
            .map(|v| v + spread * spread)
            .collect();
        let mut precisions: Vec<[f64; 1]> = wider.iter().map(|v| [v.recip()]).collect();
        let mut found = None;
        for _ in 0..ONE_LEVEL_ROUNDS {
            let levels = Levels::solve(losses, &precisions)?;
            let densities: Vec<Density> = (0..wider.len())
                .map(|i| {
                    let known = dot(losses.shared[i], &levels.values[1..]);
                    Density::of(losses.l_per_s[i] - known - levels.values[0], wider[i])
                })
                .collect();
            precisions = densities.iter().map(|d| [d.precision]).collect();
            let prior = 0.5 * dot(&levels.values[1..], &levels.values[1..]);
            found = Some(Settled {
                log_likelihood: densities.iter().map(|d| d.value.ln()).sum::<f64>() - prior,
                errors: [levels.errors[0]; 2],
                mixture: Mixture {
                    tight: levels.values[0],
                    leaking: levels.values[0],
                    share: 0.5,
                    shared: levels.values[1..].to_vec(),
                },
            });
        }
        found
    };
    (0..24)
        .filter_map(|k| of(if k == 0 { 0.0 } else { unit * 1.4_f64.powi(k) }))
        .max_by(|a, b| a.log_likelihood.total_cmp(&b.log_likelihood))
}

#[cfg(test)]
mod tests;
