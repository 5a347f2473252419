//! One result value, filled by every command and printed by every renderer.
//!
//! A [`Report`] says what was found in plain words, with the numbers behind
//! it, before any layout is chosen. Numbers stay in the units of the analysis
//! (kPa, mm, °C, seconds) and at full precision; rounding and the user's
//! choice of unit happen while rendering. The value holds no clock reading
//! and no random name: the same log gives the same report, byte for byte.

mod certainty;
mod finding;
mod health;
mod interval_plot;
mod measured;
mod plot;
mod section;
mod text;
mod trace;
mod unit;
mod wall_time;

pub use certainty::{Certainty, CertaintyWord, Severity, Verdict};
pub use finding::{Candidate, Evidence, Finding, NextCheck};
pub use health::{Clock, ClockState, Counter, DataHealth, GapRow, SessionRow};
pub use interval_plot::{IntervalPlot, IntervalRow};
pub use measured::{Measured, MeasuredKind};
pub use plot::{
    Bar, BarPlot, CurvePoint, FitPlot, Gap, Mark, MarkKind, MarkSource, OtherPoints, Panel, Plot,
    ReferenceLine, ScatterPoint, StepMark, TimePlot, TrendPlot,
};
pub use section::{Align, Cell, Column, Section, Table};
pub use text::{Label, Piece, Text};
pub use trace::Trace;
pub(crate) use trace::{keep_of_bin, thin};
pub use unit::Unit;
pub use wall_time::WallTime;

use serde::{Deserialize, Serialize};

/// Version of the report's shape. Keys are only added under one number;
/// a removed or changed key makes it `seep-report/2`.
pub const SCHEMA: &str = "seep-report/1";

/// Everything one command found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// Always [`SCHEMA`] for reports made by this version.
    pub schema: String,
    /// Program version that made it.
    pub program_version: String,
    /// Subcommand, as typed: `leaks`, `duty`, …
    pub command: String,
    /// Title of the first page.
    pub title: Label,
    /// What the report was made from.
    pub made_from: MadeFrom,
    /// The one sentence a person can act on.
    pub verdict: Verdict,
    /// Conclusions, most urgent first.
    pub findings: Vec<Finding>,
    /// Tables and plots.
    pub sections: Vec<Section>,
    /// Remarks on the whole report (assumptions, channel used for temperature).
    pub notes: Vec<Text>,
    /// How far the data can be trusted.
    pub health: DataHealth,
    /// Who signs the printed report; none for most reports.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub signatures: Vec<Label>,
    /// The few rows that a screen has room for, where no finding has better ones; not a
    /// part of the data.
    #[serde(skip)]
    pub brief: Option<Table>,
}

/// The log, the vehicle and the span a report speaks about.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MadeFrom {
    /// Name of the log file, without its folder.
    pub log_file: Label,
    /// SHA-256 of the log file, lower-case hexadecimal; empty when not taken.
    pub log_sha256: Label,
    /// Hash of the rig as recorded, lower-case hexadecimal.
    pub rig_hash: Label,
    /// Name of the vehicle in the rig.
    pub vehicle: Label,
    /// First moment reported on; none when the log is empty.
    pub from: Option<WallTime>,
    /// Last moment reported on; none when the log is empty.
    pub to: Option<WallTime>,
    /// Time zone of every wall time in the report, IANA name or `UTC`.
    pub zone: Label,
    /// Share of the span that was recorded, 0 to 1.
    pub coverage: f64,
    /// State of the recorder's clock over the span.
    pub clock: ClockState,
    /// Set when the data is invented or simulated: the label to print.
    pub invented: Option<Label>,
    /// Circuits in the rig's order, and its tank: they decide how each place looks.
    #[serde(skip)]
    pub places: Vec<String>,
}

impl Report {
    /// A report with nothing found yet.
    ///
    /// ```
    /// use seep_report::model::{ClockState, DataHealth, MadeFrom, Report, SCHEMA, Verdict};
    /// let made_from = MadeFrom {
    ///     log_file: "trip.db".into(),
    ///     log_sha256: "".into(),
    ///     rig_hash: "".into(),
    ///     vehicle: "invented wagon".into(),
    ///     from: None,
    ///     to: None,
    ///     zone: "UTC".into(),
    ///     coverage: 0.0,
    ///     clock: ClockState::Unsynced,
    ///     invented: Some("invented data".into()),
    ///     places: Vec::new(),
    /// };
    /// let verdict = Verdict::unknown("The log is empty: record a trip first.");
    /// let report = Report::new("leaks", "Leaks", made_from, verdict, DataHealth::default());
    /// assert_eq!(report.schema, SCHEMA);
    /// ```
    #[must_use]
    pub fn new(
        command: &str,
        title: &str,
        made_from: MadeFrom,
        verdict: Verdict,
        health: DataHealth,
    ) -> Self {
        Report {
            schema: SCHEMA.to_string(),
            program_version: env!("CARGO_PKG_VERSION").to_string(),
            command: command.to_string(),
            title: title.to_string().into(),
            made_from,
            verdict,
            findings: Vec::new(),
            sections: Vec::new(),
            notes: Vec::new(),
            health,
            signatures: Vec::new(),
            brief: None,
        }
    }
}
