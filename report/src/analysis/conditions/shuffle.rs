//! Variance a condition explains, and how often chance explains as much.

use super::super::stats::SplitMix64;

/// Shuffles per test: enough that fourteen tests leave room below the limit.
const SHUFFLES: usize = 2_999;

/// Of limits that explain alike, the one that parts the rests more clearly is
/// meant: a little less than one where no rest lies wholly on either side.
pub(super) fn sharp(x: &[Option<f64>]) -> f64 {
    let shares = || x.iter().flatten().copied();
    let contrast = shares().fold(0.0, f64::max) - shares().fold(1.0, f64::min);
    1.0 - 1e-3 * (1.0 - contrast)
}

/// Rests over which it held and did not hold, mostly; `None` without both.
pub(super) fn both_sorts(x: &[Option<f64>]) -> Option<(usize, usize)> {
    let with = x.iter().flatten().filter(|s| **s > 0.5).count();
    let without = x.iter().flatten().filter(|s| **s <= 0.5).count();
    (with > 0 && without > 0).then_some((with, without))
}

/// Share of the weighted variance explained by a rising line, 0 for a falling one.
pub(super) fn explained(x: &[Option<f64>], y: &[f64], weights: &[f64]) -> Option<f64> {
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

/// How often shuffled losses, each with its weight, have a statistic as large as
/// the one observed: p of the test, never zero.
///
/// **Domain**: losses exchangeable where the condition means nothing.
/// **Source**: Fisher, The Design of Experiments; `1 +` by Phipson and Smyth
/// 2010 (from memory).
pub(super) fn shuffled_p(
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Mouse data of Efron and Tibshirani, An Introduction to the Bootstrap
    /// (1993), table 2.1: survival in days, treated and control. Their one-sided
    /// level from 1000 shuffles is 0.132 (all from memory).
    #[test]
    fn survival_of_sixteen_mice() {
        let days = [
            94.0, 197.0, 16.0, 38.0, 99.0, 141.0, 23.0, // treated
            52.0, 104.0, 146.0, 10.0, 51.0, 30.0, 40.0, 27.0, 46.0,
        ];
        let gain = |days: &[f64]| {
            let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
            mean(&days[..7]) - mean(&days[7..])
        };
        assert!((gain(&days) - 30.63).abs() < 5e-3);
        let p = shuffled_p(&days, &[1.0; 16], gain(&days), 1, &|d, _| gain(d));
        // Three standard errors of a share of 0.132 in 1000 shuffles are 0.032.
        assert!((p - 0.132).abs() < 0.032, "{p}");
    }

    /// By hand: y = x explains all, a falling line nothing, unknown is left out.
    #[test]
    fn a_rising_line_explains_and_a_falling_one_does_not() {
        let x = [Some(0.0), Some(1.0), None, Some(0.0), Some(1.0)];
        let (up, down) = ([2.0, 3.0, 9.0, 2.0, 3.0], [3.0, 2.0, 9.0, 3.0, 2.0]);
        assert!((explained(&x, &up, &[1.0; 5]).expect("varies") - 1.0).abs() < 1e-12);
        assert!(explained(&x, &down, &[1.0; 5]).expect("varies").abs() < 1e-12);
        assert_eq!(both_sorts(&x), Some((2, 2)));
    }
}
