//! Plots as data: what to draw, not how.

use serde::{Deserialize, Serialize};

use super::{IntervalPlot, Label, Measured, Trace, Unit};

/// A plot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "type", rename_all = "snake_case")]
pub enum Plot {
    /// Channels over time, with marks and gaps.
    Time(TimePlot),
    /// A fitted curve through points, with its residuals.
    Fit(FitPlot),
    /// Bars, such as duty over the hours of the day.
    Bars(BarPlot),
    /// A quantity per move or run over days, with its trend.
    Trend(TrendPlot),
    /// Labelled rows with intervals on one scale, against limits or another time.
    Intervals(IntervalPlot),
}

impl Plot {
    /// Stable name, `lower-case-with-dashes`, unique in the report.
    #[must_use]
    pub fn id(&self) -> &str {
        match self {
            Plot::Time(p) => &p.id,
            Plot::Fit(p) => &p.id,
            Plot::Bars(p) => &p.id,
            Plot::Trend(p) => &p.id,
            Plot::Intervals(p) => &p.id,
        }
    }

    /// Title.
    #[must_use]
    pub fn title(&self) -> &Label {
        match self {
            Plot::Time(p) => &p.title,
            Plot::Fit(p) => &p.title,
            Plot::Bars(p) => &p.title,
            Plot::Trend(p) => &p.title,
            Plot::Intervals(p) => &p.title,
        }
    }
}

/// Stacked panels sharing one time axis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TimePlot {
    /// Stable name.
    pub id: String,
    /// Title.
    pub title: Label,
    /// What to look for.
    pub caption: Label,
    /// Start of the axis, Unix ms.
    pub from_unix_ms: i64,
    /// End of the axis, Unix ms.
    pub to_unix_ms: i64,
    /// Panels from top to bottom.
    pub panels: Vec<Panel>,
    /// Valve, compressor, rest and move spans.
    pub marks: Vec<Mark>,
    /// Stretches without data. Traces are broken here, never bridged.
    pub gaps: Vec<Gap>,
    /// What a person noted: when, and the words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<StepMark>,
}

/// One y axis with its traces.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Panel {
    /// Axis label: `pressure`.
    pub label: Label,
    /// Unit of every trace in it.
    pub unit: Unit,
    /// The traces.
    pub traces: Vec<Trace>,
}

/// What a marked span is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MarkKind {
    /// A fill valve was open.
    Fill,
    /// A dump valve was open.
    Dump,
    /// A compressor ran.
    Compressor,
    /// A volume was at rest and was used for a leak.
    Rest,
    /// A corner moved to another height.
    Move,
}

impl MarkKind {
    /// Word as printed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            MarkKind::Fill => "fill",
            MarkKind::Dump => "dump",
            MarkKind::Compressor => "compressor",
            MarkKind::Rest => "rest",
            MarkKind::Move => "move",
        }
    }
}

/// How a span was known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MarkSource {
    /// From a recorded channel.
    Wired,
    /// Worked out from the pressures.
    Inferred,
}

/// A marked span.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// What it is.
    pub kind: MarkKind,
    /// Where: a circuit, a compressor.
    pub place: String,
    /// Start, Unix ms.
    pub from_unix_ms: i64,
    /// End, Unix ms.
    pub to_unix_ms: i64,
    /// How it was known.
    pub source: MarkSource,
}

/// A stretch without data.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Gap {
    /// Start, Unix ms.
    pub from_unix_ms: i64,
    /// End, Unix ms.
    pub to_unix_ms: i64,
    /// Why: `power off`, `bus silent`, …
    pub cause: Label,
}

/// A curve value with its band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CurvePoint {
    /// Abscissa.
    pub x: f64,
    /// Curve.
    pub y: f64,
    /// Lower edge of the 95 % band.
    pub low: f64,
    /// Upper edge of the 95 % band.
    pub high: f64,
}

/// A fitted curve through points, with a residual panel below.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FitPlot {
    /// Stable name.
    pub id: String,
    /// The place measured; none for other quantities.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Title.
    pub title: Label,
    /// Which model, and what the residuals say about it.
    pub caption: Label,
    /// Label of the time axis: `time since the valves closed`.
    pub x_label: Label,
    /// Label of the value axis.
    pub y_label: Label,
    /// Unit of the value axis; the time axis is in seconds.
    pub unit: Unit,
    /// Measured points: seconds, value.
    pub points: Vec<(f64, f64)>,
    /// The fitted curve; `x` in seconds.
    pub curve: Vec<CurvePoint>,
    /// Residuals, measured minus fitted: seconds, value in `unit`.
    pub residuals: Vec<(f64, f64)>,
    /// What would have been measured without the fault: seconds, value.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub without: Vec<(f64, f64)>,
    /// The same quantity elsewhere, to compare with.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<OtherPoints>,
}

/// Points of another place in the same plot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OtherPoints {
    /// Place.
    pub name: String,
    /// Seconds, value.
    pub points: Vec<(f64, f64)>,
}

/// One bar.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bar {
    /// Label below: `07`, `rear left`.
    pub label: Label,
    /// Height with its interval; none when nothing was recorded.
    pub value: Option<Measured>,
    /// Share of the bar's span that was recorded, 0 to 1.
    pub coverage: f64,
}

/// A horizontal line to compare with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReferenceLine {
    /// What it is: `rated duty`.
    pub label: Label,
    /// Where, in the plot's unit.
    pub value: f64,
}

/// Bars over a category axis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BarPlot {
    /// Stable name.
    pub id: String,
    /// Title.
    pub title: Label,
    /// What to look for.
    pub caption: Label,
    /// Label of the category axis: `hour of the day`.
    pub x_label: Label,
    /// Label of the value axis.
    pub y_label: Label,
    /// Unit of the value axis.
    pub unit: Unit,
    /// Bars from left to right.
    pub bars: Vec<Bar>,
    /// Lines to compare with.
    pub references: Vec<ReferenceLine>,
}

/// One observation in a trend plot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ScatterPoint {
    /// When, Unix ms.
    pub t_unix_ms: i64,
    /// Value.
    pub y: f64,
    /// Lower end of its interval; none when unknown.
    pub low: Option<f64>,
    /// Upper end of its interval; none when unknown.
    pub high: Option<f64>,
}

/// A step in a trend.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StepMark {
    /// When, Unix ms.
    pub t_unix_ms: i64,
    /// What happened: `step up of 12 %`.
    pub label: Label,
}

/// A quantity per move or run over days, with its slope and band.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrendPlot {
    /// Stable name.
    pub id: String,
    /// Title.
    pub title: Label,
    /// What the trend says.
    pub caption: Label,
    /// Label of the value axis.
    pub y_label: Label,
    /// Unit of the value axis.
    pub unit: Unit,
    /// Observations in order of time.
    pub points: Vec<ScatterPoint>,
    /// Trend with its band; `x` in Unix ms. Empty when no trend was fitted.
    pub trend: Vec<CurvePoint>,
    /// Steps found.
    pub steps: Vec<StepMark>,
}
