//! Noise of one reading, from differences between neighbours.

use super::super::super::stats::median;

/// Readings further apart than this tell nothing of the noise, s.
const FAR_S: f64 = 400.0;

/// Differences needed.
const FEWEST: usize = 6;

/// First differences this much wider than second ones are a trend, not noise.
const TREND: f64 = 2.0;

/// Standard deviation of one reading, without what changes slowly.
///
/// `1.4826·median|xᵢ − xᵢ₋₁|/√2`. Of a volume that empties within the hour the
/// differences are the leak itself; where those from the line through both
/// neighbours, `1.4826·median|xᵢ − x̂ᵢ|/√(1 + w² + (1 − w)²)`, are less than half of
/// them, these are taken. `None` with fewer than six differences.
///
/// **Units**: times s, rising; values and result in the unit of the channel.
///
/// **Source**: the median of the absolute value of a normal variable is 1/1.4826 of
/// its standard deviation.
pub(super) fn reading_sd(t_s: &[f64], values: &[f64], only_near: bool) -> Option<f64> {
    let near = |i: usize| !only_near || t_s[i + 1] - t_s[i] < FAR_S;
    let all = 0..values.len().saturating_sub(1);
    let first: Vec<f64> = all
        .filter(|i| near(*i))
        .map(|i| (values[i + 1] - values[i]).abs())
        .collect();
    if first.len() < FEWEST {
        return None;
    }
    let first = 1.4826 * median(&first)? / std::f64::consts::SQRT_2;
    let inner = 1..values.len() - 1;
    let second: Vec<f64> = inner
        .filter(|i| near(*i) && near(*i - 1))
        .map(|i| from_line(t_s, values, i))
        .collect();
    let second = 1.4826 * median(&second).unwrap_or(f64::INFINITY);
    Some(if first > TREND * second {
        second
    } else {
        first
    })
}

/// Distance from the line through both neighbours, as a standard deviation of one.
fn from_line(t_s: &[f64], values: &[f64], i: usize) -> f64 {
    let w = (t_s[i] - t_s[i - 1]) / (t_s[i + 1] - t_s[i - 1]);
    let line = (1.0 - w) * values[i - 1] + w * values[i + 1];
    (values[i] - line).abs() / (1.0 + w * w + (1.0 - w) * (1.0 - w)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(n: u32, value: impl Fn(f64, f64) -> f64) -> (Vec<f64>, Vec<f64>) {
        let mut state = 7_u64;
        let mut uniform = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        let t: Vec<f64> = (0..n).map(|i| 60.0 * f64::from(i)).collect();
        let y = t
            .iter()
            // Twelve uniform numbers are near enough to normal.
            .map(|t| value(*t, (0..12).map(|_| uniform()).sum::<f64>() - 6.0))
            .collect();
        (t, y)
    }

    #[test]
    fn noise_is_found_beside_a_fast_fall() {
        let (t, steady) = series(4_000, |_, e| 600.0 + 0.5 * e);
        let sd = reading_sd(&t, &steady, true).expect("many");
        assert!((sd - 0.5).abs() < 0.03, "{sd}");
        let (t, falling) = series(60, |t, e| 600.0 * (-t / 2_700.0).exp() + 0.1 * e);
        let sd = reading_sd(&t, &falling, true).expect("many");
        assert!((0.06..0.2).contains(&sd), "{sd}");
        assert_eq!(reading_sd(&t[..6], &falling[..6], true), None);
    }
}
