//! A number that knows how well it is known.

use serde::{Deserialize, Serialize};

use super::Unit;

/// What kind of statement a number is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MeasuredKind {
    /// Best value with an interval.
    Estimate,
    /// Nothing was seen: the true value is below `value` at the stated level.
    UpperBound,
    /// The true value is above `value` at the stated level.
    LowerBound,
    /// Counted or set, without uncertainty.
    Exact,
}

/// A number with its interval and unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// Best value, or the bound itself for a bound.
    pub value: f64,
    /// Lower end of the interval; none when there is no lower limit.
    pub low: Option<f64>,
    /// Upper end of the interval; none when there is no upper limit.
    pub high: Option<f64>,
    /// Coverage of the interval, 0 to 1.
    pub level: f64,
    /// Quantity and unit of all three.
    pub unit: Unit,
    /// What kind of statement this is.
    pub kind: MeasuredKind,
}

/// Coverage used everywhere unless said otherwise.
const USUAL_LEVEL: f64 = 0.95;

impl Measured {
    /// A best value with its 95 % interval. An infinite or undefined end means
    /// that there is no limit on that side.
    ///
    /// ```
    /// use seep_report::model::{Measured, Unit};
    /// let half_life = Measured::estimate(4.0e5, 2.1e5, f64::INFINITY, Unit::Seconds);
    /// assert_eq!(half_life.high, None);
    /// ```
    #[must_use]
    pub fn estimate(value: f64, low: f64, high: f64, unit: Unit) -> Self {
        Measured {
            value,
            low: Some(low).filter(|x| x.is_finite()),
            high: Some(high).filter(|x| x.is_finite()),
            level: USUAL_LEVEL,
            unit,
            kind: MeasuredKind::Estimate,
        }
    }

    /// A best value with a symmetric 95 % interval of the given half width.
    #[must_use]
    pub fn plus_minus(value: f64, half_width: f64, unit: Unit) -> Self {
        let half_width = half_width.abs();
        Measured::estimate(value, value - half_width, value + half_width, unit)
    }

    /// Nothing seen: below `bound` at 95 %.
    #[must_use]
    pub fn below(bound: f64, unit: Unit) -> Self {
        Measured {
            value: bound,
            low: None,
            high: Some(bound),
            level: USUAL_LEVEL,
            unit,
            kind: MeasuredKind::UpperBound,
        }
    }

    /// More than `bound` at 95 %.
    #[must_use]
    pub fn above(bound: f64, unit: Unit) -> Self {
        Measured {
            value: bound,
            low: Some(bound),
            high: None,
            level: USUAL_LEVEL,
            unit,
            kind: MeasuredKind::LowerBound,
        }
    }

    /// A counted or set number.
    #[must_use]
    pub fn exact(value: f64, unit: Unit) -> Self {
        Measured {
            value,
            low: Some(value),
            high: Some(value),
            level: 1.0,
            unit,
            kind: MeasuredKind::Exact,
        }
    }

    /// A number of things.
    #[must_use]
    pub fn count(n: u64) -> Self {
        // Counts stay far below 2^53, where f64 is exact.
        #[allow(clippy::cast_precision_loss)]
        Measured::exact(n as f64, Unit::Count)
    }

    /// False when the value is not a finite number and cannot be printed.
    #[must_use]
    pub fn is_usable(&self) -> bool {
        self.value.is_finite()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_negative_half_width_is_taken_as_its_size() {
        let m = Measured::plus_minus(10.0, -2.0, Unit::Mm);
        assert_eq!((m.low, m.high), (Some(8.0), Some(12.0)));
    }

    #[test]
    fn bounds_are_open_on_one_side() {
        assert_eq!(Measured::below(0.4, Unit::KpaPerHour).low, None);
        assert_eq!(Measured::above(0.4, Unit::KpaPerHour).high, None);
    }
}
