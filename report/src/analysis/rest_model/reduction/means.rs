//! Means of readings, short at first and longer later.

/// Shortest mean, s.
const SHORTEST_S: f64 = 20.0;

/// Length of a mean as a share of the age, up to 1/32 of the whole.
const OF_AGE: f64 = 0.16;
const OF_WHOLE: f64 = 1.0 / 32.0;

/// The longest mean is at least so long, s.
const LEAST_LONGEST_S: f64 = 60.0;

/// Behind a silence longer than this means are short again, s.
const SILENCE_S: f64 = 900.0;

/// Bin of each reading, numbered without empty ones.
///
/// **Units**: times s, rising.
pub(super) fn bins(t_s: &[f64]) -> Vec<usize> {
    let (Some(&first), Some(&last)) = (t_s.first(), t_s.last()) else {
        return Vec::new();
    };
    let longest = ((last - first) * OF_WHOLE).max(LEAST_LONGEST_S);
    let width = |edge: f64, since: f64| longest.min(SHORTEST_S.max(OF_AGE * (edge - since)));
    let mut out = Vec::with_capacity(t_s.len());
    let (mut since, mut end) = (first, first + SHORTEST_S);
    let mut bin = 0;
    for &t in t_s {
        let is_new = t >= end;
        while t >= end {
            if t - end > SILENCE_S {
                since = t;
                end = t - 1e-3 + SHORTEST_S;
            } else {
                end += width(end, since);
            }
        }
        if is_new && !out.is_empty() {
            bin += 1;
        }
        out.push(bin);
    }
    out
}

/// Means by bin and the readings that count in each; readings far from their bin's
/// mean, by `6 sd` and three times the change from bin to bin, are left out.
pub(super) fn means(
    bin_of: &[usize],
    values: &[f64],
    weights: &[f64],
    sd: f64,
) -> (Vec<f64>, Vec<f64>) {
    let bins = bin_of.last().map_or(0, |b| b + 1);
    let (all, n) = weighted(bins, bin_of, values, weights, |_| true);
    let slope = slopes(&all);
    let near = |i: usize| {
        let bin = bin_of[i];
        (values[i] - all[bin]).abs() < 6.0 * sd.max(1e-9) + 3.0 * slope[bin].abs()
    };
    let (kept, n_kept) = weighted(bins, bin_of, values, weights, near);
    (0..bins)
        .map(|b| {
            if n_kept[b] > 0.0 {
                (kept[b], n_kept[b])
            } else {
                (all[b], n[b].min(1.0))
            }
        })
        .unzip()
}

/// Weighted means and weights by bin.
pub(super) fn weighted(
    bins: usize,
    bin_of: &[usize],
    values: &[f64],
    weights: &[f64],
    keep: impl Fn(usize) -> bool,
) -> (Vec<f64>, Vec<f64>) {
    let mut sum = vec![0.0; bins];
    let mut n = vec![0.0; bins];
    for (i, &bin) in bin_of.iter().enumerate().filter(|(i, _)| keep(*i)) {
        sum[bin] += weights[i] * values[i];
        n[bin] += weights[i];
    }
    (sum.iter().zip(&n).map(|(s, n)| s / n).collect(), n)
}

/// Change from bin to bin: central differences, one-sided at the ends.
fn slopes(means: &[f64]) -> Vec<f64> {
    let last = means.len().saturating_sub(1);
    (0..means.len())
        .map(|i| {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(last));
            (means[b] - means[a]) / b.abs_diff(a).max(1) as f64
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_at_first_and_behind_a_silence() {
        let night: Vec<f64> = (0..43_200).map(f64::from).collect();
        let bins_of_night = bins(&night);
        let count = bins_of_night.last().map_or(0, |b| b + 1);
        assert!((45..65).contains(&count), "{count}");
        assert_eq!((bins_of_night[19], bins_of_night[20]), (0, 1));
        let mut with_silence: Vec<f64> = (0..200).map(f64::from).collect();
        with_silence.extend((0..200).map(|i| 30_000.0 + f64::from(i)));
        let b = bins(&with_silence);
        assert_eq!((b[219] - b[200], b[220] - b[219]), (0, 1));
    }

    #[test]
    fn a_reading_far_off_does_not_count() {
        let bin_of = [0, 0, 0, 1, 1, 1];
        let values = [1.0, 1.1, 0.9, 1.0, 1.0, 9.0];
        let (mean, n) = means(&bin_of, &values, &[1.0; 6], 0.1);
        assert!((mean[0] - 1.0).abs() < 1e-12 && n[0] == 3.0);
        // The mean of the second bin is pulled to 3.67 and the change is 2.67 a bin:
        // all lie within three of it, so nothing is taken for far off.
        assert_eq!(n[1], 3.0);
        let (mean, n) = means(&[0; 6], &values, &[1.0; 6], 0.1);
        assert_eq!(
            (n[0], mean[0]),
            (1.0, 14.0 / 6.0),
            "none is near the mean of all"
        );
    }
}
