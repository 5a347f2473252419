//! Labelled rows on one scale, each with its interval and what it is compared with.

use serde::{Deserialize, Serialize};

use super::{Label, Measured, Unit};

/// One row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct IntervalRow {
    /// What the row speaks of: a place, a limit, a car.
    pub label: Label,
    /// Its value with its interval; none when there is none.
    pub value: Option<Measured>,
    /// The value it is compared with, of another time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<Measured>,
    /// The limit it is held against.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<f64>,
    /// Values of the other places of the same car.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<f64>,
    /// One or two words of the outcome: `pass`, `no height`.
    pub remark: Label,
}

/// Rows from top to bottom, all on one horizontal scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct IntervalPlot {
    /// Stable name.
    pub id: String,
    /// Title.
    pub title: Label,
    /// What to look for.
    pub caption: Label,
    /// Label of the scale.
    pub x_label: Label,
    /// Unit of the scale.
    pub unit: Unit,
    /// The rows.
    pub rows: Vec<IntervalRow>,
}

/// Intervals may lengthen the scale on each side by this share of what the values need.
const LONGEST_INTERVAL: f64 = 1.0;

impl IntervalPlot {
    /// Both ends of the scale in `unit`: nought, every value and every limit, and the
    /// ends of the intervals as far as they do not squeeze the values together.
    ///
    /// ```
    /// use seep_report::model::{IntervalPlot, IntervalRow, Measured, Unit};
    /// let row = |value, limit| IntervalRow {
    ///     label: "rear left".into(),
    ///     value: Some(Measured::estimate(value, -900.0, 12.0, Unit::Mm)),
    ///     before: None,
    ///     limit,
    ///     others: Vec::new(),
    ///     remark: "pass".into(),
    /// };
    /// let plot = IntervalPlot {
    ///     id: "holds".into(),
    ///     title: "Holds".into(),
    ///     caption: "".into(),
    ///     x_label: "fall".into(),
    ///     unit: Unit::Mm,
    ///     rows: vec![row(8.0, Some(25.0)), row(4.0, None)],
    /// };
    /// assert_eq!(plot.range(), (-25.0, 25.0));
    /// ```
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        let measured = || self.rows.iter().flat_map(|r| [r.value, r.before]).flatten();
        let limits = self.rows.iter().filter_map(|r| r.limit);
        let others = self.rows.iter().flat_map(|r| r.others.iter().copied());
        let points = measured().map(|m| m.value).chain(limits).chain(others);
        let (low, high) = ends(points, (0.0, 0.0));
        let most = LONGEST_INTERVAL * (high - low).max(f64::MIN_POSITIVE);
        let intervals = measured().flat_map(|m| [m.low, m.high]).flatten();
        let kept = intervals.map(|x| x.clamp(low - most, high + most));
        ends(kept, (low, high))
    }

    /// True when an interval runs out of the scale.
    #[must_use]
    pub fn cuts_an_interval(&self) -> bool {
        let (low, high) = self.range();
        let measured = self.rows.iter().flat_map(|r| [r.value, r.before]).flatten();
        measured
            .flat_map(|m| [m.low, m.high])
            .flatten()
            .any(|x| x < low || x > high)
    }
}

fn ends(values: impl Iterator<Item = f64>, start: (f64, f64)) -> (f64, f64) {
    values
        .filter(|v| v.is_finite())
        .fold(start, |(low, high), v| (low.min(v), high.max(v)))
}
