//! Traces made ready to draw: broken where nothing was recorded.

use crate::model::{Gap, Trace};

/// A pause this many times the usual step between readings is a break even if
/// no gap was recorded for it.
const PAUSE_FACTOR: i64 = 20;

/// Pauses up to this length are never taken for a break on their own, ms.
const SHORT_PAUSE_MS: i64 = 60_000;

/// The trace with a silence put in wherever a gap or a long pause lies between
/// two readings, so that no line is drawn across it.
pub(crate) fn broken(trace: &Trace, gaps: &[Gap]) -> Trace {
    let longest = longest_pause_ms(trace);
    let mut t_unix_ms = Vec::with_capacity(trace.t_unix_ms.len());
    let mut values = Vec::with_capacity(trace.values.len());
    let mut previous: Option<i64> = None;
    let mut next_gap = 0;
    for (&t, &value) in trace.t_unix_ms.iter().zip(&trace.values) {
        if let Some(before) = previous {
            while gaps.get(next_gap).is_some_and(|g| g.to_unix_ms <= before) {
                next_gap += 1;
            }
            let in_gap = gaps[next_gap..]
                .iter()
                .take_while(|g| g.from_unix_ms < t)
                .any(|g| lies_between(g, before, t));
            if in_gap || t - before > longest {
                t_unix_ms.push(before + (t - before) / 2);
                values.push(None);
            }
        }
        t_unix_ms.push(t);
        values.push(value);
        previous = Some(t);
    }
    Trace {
        name: trace.name.clone(),
        t_unix_ms,
        values,
        thinned_from: trace.thinned_from,
    }
}

/// True when the gap fills the time between two readings. A gap of another
/// channel has readings inside and does not.
fn lies_between(gap: &Gap, before: i64, after: i64) -> bool {
    let slack = (gap.to_unix_ms - gap.from_unix_ms) / 10;
    before <= gap.from_unix_ms + slack && after >= gap.to_unix_ms - slack
}

fn longest_pause_ms(trace: &Trace) -> i64 {
    let mut steps: Vec<i64> = trace.t_unix_ms.windows(2).map(|w| w[1] - w[0]).collect();
    if steps.is_empty() {
        return i64::MAX;
    }
    let middle = steps.len() / 2;
    let (_, median, _) = steps.select_nth_unstable(middle);
    median.saturating_mul(PAUSE_FACTOR).max(SHORT_PAUSE_MS)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gap(from_unix_ms: i64, to_unix_ms: i64) -> Gap {
        Gap {
            from_unix_ms,
            to_unix_ms,
            cause: "power off".into(),
        }
    }

    fn trace(times: &[i64]) -> Trace {
        Trace::new("x", times.to_vec(), vec![Some(1.0); times.len()])
    }

    fn silences(trace: &Trace) -> usize {
        trace.values.iter().filter(|v| v.is_none()).count()
    }

    #[test]
    fn a_gap_between_two_readings_breaks_the_line() {
        let got = broken(&trace(&[0, 1000, 9000, 10_000]), &[gap(1000, 9000)]);
        assert_eq!(
            got.values,
            [Some(1.0), Some(1.0), None, Some(1.0), Some(1.0)]
        );
        assert_eq!(got.t_unix_ms[2], 5000);
    }

    #[test]
    fn a_gap_of_another_channel_does_not() {
        let times: Vec<i64> = (0..20).map(|i| i * 1000).collect();
        assert_eq!(silences(&broken(&trace(&times), &[gap(3000, 9000)])), 0);
    }

    #[test]
    fn a_long_pause_nobody_recorded_breaks_the_line_too() {
        let mut times: Vec<i64> = (0..50).map(|i| i * 1000).collect();
        times.push(49_000 + 3_600_000);
        assert_eq!(silences(&broken(&trace(&times), &[])), 1);
        let slow: Vec<i64> = (0..50).map(|i| i * 300_000).collect();
        assert_eq!(silences(&broken(&trace(&slow), &[])), 0);
    }
}
