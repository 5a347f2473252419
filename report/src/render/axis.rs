//! Number axes with round ticks.

/// A value axis that holds all values, with ticks at round numbers.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Axis {
    /// Value at the lower edge.
    pub(crate) low: f64,
    /// Value at the upper edge.
    pub(crate) high: f64,
    /// Ticks from low to high.
    pub(crate) ticks: Vec<Tick>,
}

/// A tick and its label.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tick {
    /// Where.
    pub(crate) at: f64,
    /// What to print.
    pub(crate) label: String,
}

impl Axis {
    /// An axis around `values` with about `wanted` ticks. Values that are not
    /// finite are left out; without any value the axis runs from 0 to 1.
    pub(crate) fn around(values: impl IntoIterator<Item = f64>, wanted: usize) -> Axis {
        let (low, high) = values
            .into_iter()
            .filter(|v| v.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| {
                (lo.min(v), hi.max(v))
            });
        if low > high {
            return Axis::between(0.0, 1.0, wanted);
        }
        let pad = (high - low).max(low.abs().max(high.abs()) * 1e-6).max(1e-9) * 0.05;
        Axis::between(low - pad, high + pad, wanted)
    }

    /// An axis from `low` to `high` exactly.
    pub(crate) fn between(low: f64, high: f64, wanted: usize) -> Axis {
        let step = round_step((high - low) / wanted.max(1) as f64);
        let decimals = usize::try_from(-step.log10().floor() as i64).unwrap_or(0);
        let first = (low / step).ceil() as i64;
        let last = (high / step).floor() as i64;
        let ticks = (first..=last)
            .take(100)
            .map(|i| Tick {
                at: i as f64 * step,
                label: label(i as f64 * step, decimals),
            })
            .collect();
        Axis { low, high, ticks }
    }

    /// Position of `value`, 0 at the lower edge and 1 at the upper.
    pub(crate) fn position(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }
}

/// The step of 1, 2, 5 times a power of ten next to `raw`.
fn round_step(raw: f64) -> f64 {
    if !(raw.is_finite() && raw > 0.0) {
        return 1.0;
    }
    let power = 10f64.powf(raw.log10().floor());
    let step = match raw / power {
        r if r < 1.5 => 1.0,
        r if r < 3.5 => 2.0,
        r if r < 7.5 => 5.0,
        _ => 10.0,
    };
    step * power
}

fn label(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let is_zero = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    match text.strip_prefix('-') {
        Some(digits) if is_zero => digits.to_string(),
        Some(digits) => format!("−{digits}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn labels(axis: &Axis) -> Vec<&str> {
        axis.ticks.iter().map(|t| t.label.as_str()).collect()
    }

    #[test]
    fn ticks_are_round() {
        assert_eq!(
            labels(&Axis::between(0.0, 10.0, 5)),
            ["0", "2", "4", "6", "8", "10"]
        );
        assert_eq!(
            labels(&Axis::between(-0.3, 0.31, 3)),
            ["−0.2", "0.0", "0.2"]
        );
        assert_eq!(labels(&Axis::around([], 2)), ["0.0", "0.5", "1.0"]);
    }

    proptest! {
        #[test]
        fn every_value_is_on_the_axis(values in proptest::collection::vec(-1e9..1e9f64, 1..20)) {
            let axis = Axis::around(values.iter().copied(), 5);
            prop_assert!(values.iter().all(|v| (0.0..=1.0).contains(&axis.position(*v))));
            prop_assert!((2..=9).contains(&axis.ticks.len()), "{:?}", axis.ticks);
        }
    }
}
