//! The test: loss against the share of the rest over which a condition held.

use super::super::estimate::Estimate;
use super::super::regression::{Term, regress};
use super::super::shared_error::shared_error;
use super::super::stats::{SplitMix64, holm, median, two_normals};
use super::RestLoss;
use super::candidate::{Condition, families};

/// A leak with its condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditional {
    /// Circuit, or `tank`.
    pub place: String,
    /// When it leaks.
    pub condition: Condition,
    /// Loss while the condition holds, ANR L/s.
    pub open_l_per_s: Estimate,
    /// Loss while it does not.
    pub shut_l_per_s: Estimate,
    /// p value by permutation, after Holm's correction for all conditions
    /// looked at.
    pub p: f64,
    /// The next best condition that survives too, and how much of the variance
    /// either explains.
    pub rival: Option<(Condition, f64)>,
    /// Share of the variance of the losses that the condition explains.
    pub explained: f64,
    /// Rests with and without the condition.
    pub rests: (usize, usize),
    /// Of all rests, the share that leaks, by a mixture of two states; `None`
    /// when two states are not told from one.
    pub leaking_share: Option<f64>,
}

/// Shuffles per test.
const SHUFFLES: usize = 999;

/// A condition is named below this corrected p value.
const NAMED_P: f64 = 0.01;

/// And when the loss it goes with is this many standard errors.
const NAMED_Z: f64 = 4.0;

/// While the condition does not hold, at most this share of the loss is left.
const SHUT_SHARE: f64 = 0.35;

/// Rests needed of either sort.
const FEWEST: usize = 3;

/// A temperature channel tells the air's swing only up to this share; a loss
/// that follows the cooling to that degree is no condition. A prior: common
/// practice, no source.
const COOLING_SD: f64 = 0.15;

/// The condition under which a volume leaks, if one survives. `floor_l_per_s`
/// is the least loss worth a word.
///
/// Each condition is tested by the share of variance it explains, against the
/// same after shuffling the losses over the rests; Holm's correction covers all
/// conditions looked at.
///
/// **Source**: Fisher, The Design of Experiments; Holm 1979.
#[must_use]
pub fn condition_of(place: &str, rests: &[RestLoss], floor_l_per_s: f64) -> Option<Conditional> {
    let weights = weights(rests)?;
    let tests: Vec<(Conditional, f64)> = families(place, rests)
        .into_iter()
        .enumerate()
        .filter_map(|(i, family)| test(place, rests, &weights, &family, i as u64))
        .collect();
    let p: Vec<f64> = holm(&tests.iter().map(|t| t.1).collect::<Vec<_>>());
    let mut surviving: Vec<Conditional> = tests
        .into_iter()
        .zip(p)
        .map(|((conditional, _), p)| Conditional { p, ..conditional })
        .filter(|c| survives(c, floor_l_per_s))
        .collect();
    surviving.sort_by(|a, b| b.explained.total_cmp(&a.explained));
    let rival = surviving.get(1).map(|c| (c.condition, c.explained));
    let best = surviving.into_iter().next()?;
    Some(Conditional {
        rival,
        leaking_share: leaking_share(rests),
        ..best
    })
}

fn survives(c: &Conditional, floor_l_per_s: f64) -> bool {
    let open = &c.open_l_per_s;
    c.p < NAMED_P
        && open.value > NAMED_Z * open.se
        && open.value > floor_l_per_s
        && c.shut_l_per_s.value < SHUT_SHARE * open.value
        && c.rests.0 >= FEWEST
        && c.rests.1 >= FEWEST
}

/// Weights of the rests: their own errors and the spread they all share. Rests
/// that leak differ from those that hold, so the spread is that of the tighter half.
fn weights(rests: &[RestLoss]) -> Option<Vec<f64>> {
    let errors: Vec<f64> = rests.iter().map(|r| r.se).collect();
    let typical = median(&errors)?;
    let raw: Vec<f64> = errors
        .iter()
        .map(|se| 1.0 / (se * se + typical * typical))
        .collect();
    let mean = raw.iter().sum::<f64>() / raw.len() as f64;
    (mean > 0.0 && mean.is_finite()).then(|| raw.iter().map(|w| w / mean).collect())
}

/// The best condition of a family and its p value before any correction.
fn test(
    place: &str,
    rests: &[RestLoss],
    weights: &[f64],
    family: &[Condition],
    seed: u64,
) -> Option<(Conditional, f64)> {
    let shares: Vec<(Condition, Vec<Option<f64>>)> = family
        .iter()
        .map(|c| (*c, rests.iter().map(|r| c.share(r)).collect()))
        .filter(|(_, x): &(_, Vec<Option<f64>>)| both_sorts(x).is_some())
        .collect();
    let cooling: Vec<f64> = rests.iter().map(|r| r.cooling_l_per_s).collect();
    let losses: Vec<f64> = rests.iter().map(|r| r.l_per_s).collect();
    let losses = beside(&cooling, &losses, weights);
    let best = |losses: &[f64], weights: &[f64]| {
        shares
            .iter()
            .filter_map(|(c, x)| Some((*c, x, sharp(x) * explained(x, losses, weights)?)))
            .max_by(|a, b| a.2.total_cmp(&b.2))
    };
    let (condition, x, share) = best(&losses, weights)?;
    if share <= 0.0 {
        return None;
    }
    let (open, shut) = levels(x, rests, weights)?;
    // What no shuffle will make into a claim need not be shuffled.
    let p = if open.value > NAMED_Z * open.se {
        shuffled_p(&losses, weights, share, seed, &|l, w| {
            best(l, w).map_or(0.0, |b| b.2)
        })
    } else {
        1.0
    };
    let conditional = Conditional {
        place: place.into(),
        condition,
        open_l_per_s: open,
        shut_l_per_s: shut,
        p,
        rival: None,
        explained: share,
        rests: both_sorts(x)?,
        leaking_share: None,
    };
    Some((conditional, p))
}

/// What of the losses does not go with the cooling.
///
/// A volume table that is a little too steep makes every rest that cools look
/// like a loss and every one that warms like a gain. Nights cool, and nights
/// are cold, so only what is left beside the cooling speaks for a condition;
/// but no more is laid to the cooling than such an error can do.
fn beside(cooling: &[f64], values: &[f64], weights: &[f64]) -> Vec<f64> {
    let total: f64 = weights.iter().sum();
    let mean = |v: &[f64]| v.iter().zip(weights).map(|(v, w)| v * w).sum::<f64>() / total;
    let (c, v) = (mean(cooling), mean(values));
    let mut sums = (0.0, 0.0);
    for ((x, y), w) in cooling.iter().zip(values).zip(weights) {
        sums.0 += w * (x - c) * (y - v);
        sums.1 += w * (x - c) * (x - c);
    }
    let most = 3.0 * COOLING_SD;
    let slope = if sums.1 > 0.0 {
        (sums.0 / sums.1).clamp(-most, most)
    } else {
        0.0
    };
    cooling
        .iter()
        .zip(values)
        .map(|(x, y)| y - slope * (x - c))
        .collect()
}

/// Of limits that explain alike, the one that parts the rests more clearly is
/// meant: a little less than one where no rest lies wholly on either side.
fn sharp(x: &[Option<f64>]) -> f64 {
    let shares = || x.iter().flatten().copied();
    let contrast = shares().fold(0.0, f64::max) - shares().fold(1.0, f64::min);
    1.0 - 1e-3 * (1.0 - contrast)
}

/// Rests over which it held and did not hold, mostly; `None` without both.
fn both_sorts(x: &[Option<f64>]) -> Option<(usize, usize)> {
    let with = x.iter().flatten().filter(|s| **s > 0.5).count();
    let without = x.iter().flatten().filter(|s| **s <= 0.5).count();
    (with > 0 && without > 0).then_some((with, without))
}

/// Share of the weighted variance explained by a rising line, 0 for a falling one.
fn explained(x: &[Option<f64>], y: &[f64], weights: &[f64]) -> Option<f64> {
    let mut sums = [0.0_f64; 6];
    for ((x, y), w) in x.iter().zip(y).zip(weights) {
        let Some(x) = x else { continue };
        for (sum, value) in sums.iter_mut().zip([1.0, *x, *y, x * x, y * y, x * y]) {
            *sum += w * value;
        }
    }
    let [n, sx, sy, sxx, syy, sxy] = sums;
    let (vx, vy) = (sxx - sx * sx / n, syy - sy * sy / n);
    let cov = sxy - sx * sy / n;
    (vx > 0.0 && vy > 0.0).then(|| {
        if cov > 0.0 {
            cov * cov / (vx * vy)
        } else {
            0.0
        }
    })
}

fn shuffled_p(
    losses: &[f64],
    weights: &[f64],
    observed: f64,
    seed: u64,
    statistic: &dyn Fn(&[f64], &[f64]) -> f64,
) -> f64 {
    let mut rng = SplitMix64::new(seed + 1);
    let mut pairs: Vec<(f64, f64)> = losses
        .iter()
        .copied()
        .zip(weights.iter().copied())
        .collect();
    let mut hits = 0;
    for _ in 0..SHUFFLES {
        rng.shuffle(&mut pairs);
        let (l, w): (Vec<f64>, Vec<f64>) = pairs.iter().copied().unzip();
        hits += usize::from(statistic(&l, &w) >= observed);
    }
    (1 + hits) as f64 / (1 + SHUFFLES) as f64
}

/// Loss with and without the condition, after allowing for the cooling.
fn levels(x: &[Option<f64>], rests: &[RestLoss], weights: &[f64]) -> Option<(Estimate, Estimate)> {
    let known: Vec<usize> = (0..x.len()).filter(|i| x[*i].is_some()).collect();
    let column = |f: &dyn Fn(usize) -> f64| -> Vec<f64> { known.iter().map(|i| f(*i)).collect() };
    let held = column(&|i| x[i].unwrap_or(0.0));
    let cooling = column(&|i| rests[i].cooling_l_per_s);
    let mut terms = vec![
        Term::free(held.clone()),
        Term::free(held.iter().map(|h| 1.0 - h).collect()),
    ];
    if cooling.iter().any(|c| c.abs() > 0.0) {
        terms.push(Term::small(cooling, COOLING_SD));
    }
    let y = column(&|i| rests[i].l_per_s);
    let fit = regress(&terms, &y, &column(&|i| weights[i]))?;
    let level = |j: usize| Estimate {
        value: fit.values[j],
        se: fit.standard_errors[j],
        degrees_of_freedom: fit.degrees_of_freedom,
    };
    let shared = shared_error_of_contrast(&held, &known, rests, weights);
    Some((level(0).with_known_error(shared), level(1)))
}

/// What errors that are the same in every rest may do to the difference between
/// rests with and without the condition, ANR L/s.
fn shared_error_of_contrast(
    held: &[f64],
    known: &[usize],
    rests: &[RestLoss],
    weights: &[f64],
) -> f64 {
    let total = |share: &dyn Fn(f64) -> f64| -> f64 {
        held.iter()
            .zip(known)
            .map(|(h, i)| weights[*i] * share(*h))
            .sum()
    };
    let (with, without) = (total(&|h| h), total(&|h| 1.0 - h));
    let part = |weight: f64, of: f64| if of > 0.0 { weight / of } else { 0.0 };
    shared_error(held.iter().zip(known).map(|(h, &i)| {
        let w = weights[i];
        let contrast = part(w * h, with) - part(w * (1.0 - h), without);
        (contrast, &rests[i].shared_errors_l_per_s[..])
    }))
}

/// Share of rests in the leaking state.
fn leaking_share(rests: &[RestLoss]) -> Option<f64> {
    let losses: Vec<f64> = rests.iter().map(|r| r.l_per_s).collect();
    let error = median(&rests.iter().map(|r| r.se).collect::<Vec<_>>())?;
    let mixture = two_normals(&losses, error)?;
    mixture.prefers_two(10.0).then(|| mixture.parts[1].share)
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
            after,
            celsius: (0..24).map(|k| celsius + 0.1 * f64::from(k)).collect(),
            kpa_abs: 600.0 + (i * 7 % 5) as f64,
            mm: (i * 3 % 7) as f64,
            cooling_l_per_s: 0.0,
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
        assert!(matches!(found.condition, Condition::Colder(c) if (-2.0..12.0).contains(&c)));
        assert!((found.open_l_per_s.value - 3e-5).abs() < 2e-6);
        assert_eq!(found.rests, (8, 16));
        let share = found.leaking_share.expect("two states");
        assert!((share - 1.0 / 3.0).abs() < 0.05, "{share}");
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
        assert_eq!(found.condition, Condition::AfterDump);
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
