//! Spikes: single readings that nothing around them supports.

use super::super::super::stats::median;

/// A reading further from the running median of five than this many robust
/// standard deviations is a spike. Common practice, no source: a normal reading
/// reaches it once in 10³² times, a valve or a step never does, since its
/// neighbours follow.
const SPIKE_SD: f64 = 12.0;

/// Residuals that the robust standard deviation is taken from.
const MOST_RESIDUALS: usize = 20_000;

/// Indices of spikes among readings in time order.
///
/// The robust standard deviation is 1.4826 times the median distance from the
/// running median of five, at least one count. Fewer than seven readings hold no
/// spike. Of the last two readings one is a spike where it alone is off the other and
/// the one before them: a recorder that loses its power ends in the midst of a rest,
/// and its last reading stands for the whole night. The first two are never one: what
/// is read before a car levels at power-on is the end of its night.
///
/// **Units**: `values` and `count` in the unit of the channel.
///
/// **Source**: running-median filter, common practice, no source.
///
/// ```
/// use seep_report::analysis::rest_model::spikes;
/// let mut values = vec![500.0_f32; 20];
/// values[9] = 900.0;
/// assert_eq!(spikes(&values, 0.1), [9]);
/// ```
#[must_use]
pub fn spikes(values: &[f32], count: f64) -> Vec<usize> {
    let n = values.len();
    if n < 7 {
        return Vec::new();
    }
    let distance = |five: &[f32]| f64::from((five[2] - median_of_five(five)).abs());
    let stride = n.div_ceil(MOST_RESIDUALS);
    let sample: Vec<f64> = values.windows(5).step_by(stride).map(distance).collect();
    let sd = (1.4826 * median(&sample).unwrap_or(0.0)).max(count);
    let limit = SPIKE_SD * sd;
    // With both neighbours within the limit the median of five is within it too:
    // three of the five are.
    let near = |a: f32, b: f32| f64::from((a - b).abs()) <= limit;
    let inner = |i: &usize| {
        !(near(values[*i], values[i - 1]) && near(values[*i], values[i + 1]))
            && distance(&values[i - 2..=i + 2]) > limit
    };
    // Without a way out on the first, which is quicker where there is none.
    let any_far = |far, pair: &[f32]| far | !near(pair[0], pair[1]);
    let mut found: Vec<usize> = Vec::new();
    if values.windows(2).fold(false, any_far) {
        found.extend((2..n - 2).filter(inner));
    }
    let last = last_spike([values[n - 1], values[n - 2], values[n - 3]], &near);
    found.extend(last.map(|back| n - 1 - back));
    found
}

/// The third of five in their order: neither the less of two pairs' lesser ones nor the
/// greater of their greater ones can be it.
fn median_of_five(five: &[f32]) -> f32 {
    let (a, b, c) = (five[0], five[1], five[2]);
    let low = a.min(b).max(five[3].min(five[4]));
    let high = a.max(b).min(five[3].max(five[4]));
    low.max(high).min(low.min(high).max(c))
}

/// How far from the end a spike lies among the last readings, the last one first:
/// alone between or behind two that agree, and not on their line.
fn last_spike(values: [f32; 3], near: &impl Fn(f32, f32) -> bool) -> Option<usize> {
    let [end, second, third] = values;
    if near(end, second) || near(end, 2.0 * second - third) {
        return None;
    }
    if near(end, third) {
        return Some(1);
    }
    near(second, third).then_some(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_of_five_is_the_third_in_order() {
        for code in 0..5_usize.pow(5) {
            let five: Vec<f32> = (0..5).map(|k| (code / 5_usize.pow(k) % 5) as f32).collect();
            let mut sorted = five.clone();
            sorted.sort_unstable_by(f32::total_cmp);
            assert_eq!(median_of_five(&five), sorted[2], "{five:?}");
        }
    }

    #[test]
    fn a_step_is_no_spike_and_two_readings_are() {
        let mut values: Vec<f32> = (0..100_u8).map(|i| f32::from(i % 3)).collect();
        for v in &mut values[50..] {
            *v += 400.0;
        }
        assert!(spikes(&values, 0.1).is_empty());
        values[20] = 900.0;
        values[21] = 900.0;
        assert_eq!(spikes(&values, 0.1), [20, 21]);
        assert!(spikes(&values[18..24], 0.1).is_empty(), "too few readings");
    }

    #[test]
    fn the_end_of_a_series_holds_spikes_too() {
        let level = |i: u8| 400.0 + f32::from(i % 3);
        for at in [18_usize, 19] {
            let mut values: Vec<f32> = (0..20).map(level).collect();
            values[at] = 720.0;
            assert_eq!(spikes(&values, 0.1), [at]);
        }
        // A corner that empties, and a load that changed before two readings.
        let emptying: Vec<f32> = (0..20_u8)
            .map(|i| 700.0 * (-0.1 * f32::from(i)).exp())
            .collect();
        assert!(spikes(&emptying, 0.1).is_empty());
        let mut stepped: Vec<f32> = (0..20).map(level).collect();
        stepped[18..].fill(450.0);
        assert!(spikes(&stepped, 0.1).is_empty());
        stepped.reverse();
        stepped[0] = 500.0;
        assert!(spikes(&stepped, 0.1).is_empty(), "the end of a night");
    }
}
