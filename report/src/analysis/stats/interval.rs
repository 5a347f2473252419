//! An interval with its coverage.

/// An interval with the coverage it was made for.
///
/// **Units**: those of the quantity. An end may be infinite: the data give no
/// limit on that side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Nominal coverage, 0 to 1.
    pub level: f64,
}

impl Interval {
    /// `value` ± `half_width`. An undefined half width becomes an open interval.
    #[must_use]
    pub fn around(value: f64, half_width: f64, level: f64) -> Self {
        let half_width = if half_width.is_nan() {
            f64::INFINITY
        } else {
            half_width.abs()
        };
        Interval {
            low: value - half_width,
            high: value + half_width,
            level,
        }
    }

    /// True when `value` lies inside or on an end.
    ///
    /// ```
    /// use seep_report::analysis::stats::Interval;
    /// assert!(Interval::around(10.0, 2.0, 0.95).contains(8.0));
    /// ```
    #[must_use]
    pub fn contains(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}
