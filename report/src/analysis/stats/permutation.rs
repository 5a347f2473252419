//! Tests by shuffling labels, and what many tests together may claim.

use super::rng::SplitMix64;

/// Groupings up to which every one is counted instead of drawing some.
const COUNT_ALL_UP_TO: f64 = 20_000.0;

/// Two-sided p of a difference of means between two groups by permutation.
///
/// All groupings are counted when there are at most 20000, otherwise `draws`
/// shuffles are taken and p is `(1 + hits)/(1 + draws)`, never zero. `None`
/// when a group is empty or a value is not finite.
///
/// **Domain**: values exchangeable if the label means nothing. **Source**:
/// Fisher, The Design of Experiments; Phipson and Smyth 2010 for the `1 +`.
///
/// ```
/// use seep_report::analysis::stats::permutation_p;
/// // the most extreme of 20 groupings, on both sides
/// let p = permutation_p(&[1.0, 2.0, 3.0], &[7.0, 8.0, 9.0], 1000, 1).unwrap();
/// assert!((p - 0.1).abs() < 1e-12);
/// ```
#[must_use]
pub fn permutation_p(a: &[f64], b: &[f64], draws: usize, seed: u64) -> Option<f64> {
    let all: Vec<f64> = a.iter().chain(b).copied().collect();
    if a.is_empty() || b.is_empty() || all.iter().any(|v| !v.is_finite()) {
        return None;
    }
    let test = Test {
        sum: all.iter().sum(),
        first: a.len() as f64,
        n: all.len() as f64,
    };
    let scale = all.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
    // Equal groupings must count as equal although their sums round apart.
    let least = test.difference(a.iter().sum()) - 1e-12 * scale;
    let hit = |sum: f64| test.difference(sum) >= least;
    if groupings(all.len(), a.len()) <= COUNT_ALL_UP_TO {
        let mut count = Count::default();
        count.every(&all, a.len(), 0.0, &hit);
        return Some(count.hits as f64 / count.all as f64);
    }
    let mut rng = SplitMix64::new(seed);
    let mut order = all;
    let hits = (0..draws)
        .filter(|_| {
            rng.shuffle(&mut order);
            hit(order[..a.len()].iter().sum())
        })
        .count();
    Some((1 + hits) as f64 / (1 + draws) as f64)
}

struct Test {
    sum: f64,
    first: f64,
    n: f64,
}

impl Test {
    /// |mean of the first group - mean of the second| from the first sum.
    fn difference(&self, first_sum: f64) -> f64 {
        (first_sum / self.first - (self.sum - first_sum) / (self.n - self.first)).abs()
    }
}

/// Binomial coefficient as a float.
fn groupings(n: usize, k: usize) -> f64 {
    (0..k).fold(1.0, |c, i| c * (n - i) as f64 / (i + 1) as f64)
}

#[derive(Default)]
struct Count {
    all: u64,
    hits: u64,
}

impl Count {
    /// Every choice of `take` values out of `rest`, by sum.
    fn every(&mut self, rest: &[f64], take: usize, sum: f64, hit: &impl Fn(f64) -> bool) {
        if take == 0 {
            self.all += 1;
            self.hits += u64::from(hit(sum));
            return;
        }
        for i in 0..=rest.len() - take {
            self.every(&rest[i + 1..], take - 1, sum + rest[i], hit);
        }
    }
}

/// p values corrected for having been looked at together (Holm's step-down).
///
/// Reject those still below the level: the chance of one false claim in the
/// whole family stays below it. In the order given; `NaN` stays `NaN` and counts as a
/// test.
///
/// **Source**: Holm 1979, Scand. J. Stat. 6.
///
/// ```
/// use seep_report::analysis::stats::holm;
/// assert_eq!(holm(&[0.01, 0.04, 0.03]), vec![0.03, 0.06, 0.06]);
/// ```
#[must_use]
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&i, &j| p[i].total_cmp(&p[j]));
    let mut adjusted = vec![0.0; p.len()];
    let mut least = 0.0_f64;
    for (rank, &i) in order.iter().enumerate() {
        if p[i].is_nan() {
            adjusted[i] = f64::NAN;
            continue;
        }
        least = least.max(p[i] * (p.len() - rank) as f64).min(1.0);
        adjusted[i] = least;
    }
    adjusted
}
