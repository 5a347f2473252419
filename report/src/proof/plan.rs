//! The plan of a proof run: what the car must show before it goes.

use super::plan_checks;
use seep_common::rig::{Rig, RigProblem, read_with_mistakes};
use seep_common::store::cause;
use seep_common::text_file::read_text;
use serde::Deserialize;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// No plan is larger, bytes.
const MOST_BYTES: u64 = 1 << 20;

/// A plan as written.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LimitPlan {
    /// What it is for.
    pub name: String,
    /// Who signs; a builder and a witness unless said.
    #[serde(default = "two_people")]
    pub signatures: Vec<String>,
    /// How far ahead the forecast looks, h; the longest hold unless said.
    pub forecast_hours: Option<f64>,
    /// Limits on what is lost at rest.
    #[serde(default)]
    pub hold: Vec<PlannedHold>,
    /// Limits on fills and dumps.
    #[serde(default)]
    pub cycle: Vec<Cycle>,
    /// Limits on compressors.
    #[serde(default)]
    pub duty: Vec<DutyLimit>,
    /// Limit on missing data.
    pub recording: Option<RecordingLimit>,
}

/// A place must hold its height or pressure.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedHold {
    /// A circuit, `tank`, or `all` circuits.
    pub place: String,
    /// For how long, h.
    pub hours: f64,
    /// Within this change of height, mm.
    pub within_mm: Option<f64>,
    /// Within this change of pressure at constant volume, kPa.
    pub within_kpa: Option<f64>,
}

/// A place must be raised and lowered so often, each time fast enough.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cycle {
    /// A circuit, or `all` circuits.
    pub place: String,
    /// Cycles of one fill and one dump, at least.
    pub times: usize,
    /// Every fill under this, s.
    pub fill_under_s: Option<f64>,
    /// Every dump under this, s.
    pub dump_under_s: Option<f64>,
}

/// A compressor must not run more.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DutyLimit {
    /// A compressor, or `all`.
    pub compressor: String,
    /// Duty in the worst window, percent.
    pub below_percent: f64,
    /// Length of the window, min.
    pub window_min: f64,
}

/// The recording must be whole.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RecordingLimit {
    /// Stretches without data and without a noted cause, at most.
    pub unexplained_gaps: usize,
    /// Share of the span recorded, percent, at least.
    pub coverage_percent: Option<f64>,
    /// Causes that explain a gap.
    #[serde(default = "plain_causes")]
    pub causes: Vec<String>,
}

fn two_people() -> Vec<String> {
    vec!["Builder".into(), "Witness".into()]
}

fn plain_causes() -> Vec<String> {
    [cause::POWER_OFF, cause::SOURCE_SILENT, cause::ASLEEP]
        .map(String::from)
        .to_vec()
}

/// Why a plan cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum PlanError {
    /// The file is not there or cannot be read.
    #[error("{}: cannot read the plan", .path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The plan has mistakes.
    #[error("{}", listed(.path, .problems))]
    Mistakes {
        /// The file.
        path: PathBuf,
        /// Every mistake, with its line.
        problems: Vec<RigProblem>,
    },
}

fn listed(path: &Path, problems: &[RigProblem]) -> String {
    let mut text = String::new();
    for problem in problems {
        let parting = if text.is_empty() { "" } else { "\n" };
        let _ = write!(text, "{parting}{}: {problem}", path.display());
    }
    text
}

impl LimitPlan {
    /// Read a plan file.
    ///
    /// # Errors
    /// [`PlanError`] says what is wrong and where.
    pub fn read(path: &Path) -> Result<(LimitPlan, String), PlanError> {
        let text = read_text(path, MOST_BYTES).map_err(|source| PlanError::Read {
            path: path.into(),
            source,
        })?;
        Ok((LimitPlan::parse(&text, path)?, text))
    }

    /// Read a plan from its text; `path` is only named in errors.
    ///
    /// # Errors
    /// As [`LimitPlan::read`].
    ///
    /// ```
    /// use seep_report::proof::LimitPlan;
    /// let text = "name = \"invented\"\n[[hold]]\nplace = \"all\"\nhours = 12\nwithin_mm = 5";
    /// let plan = LimitPlan::parse(text, "plan.toml".as_ref()).unwrap();
    /// assert_eq!(plan.hold[0].hours, 12.0);
    /// ```
    pub fn parse(text: &str, path: &Path) -> Result<LimitPlan, PlanError> {
        let (plan, mut problems) = read_with_mistakes::<LimitPlan>(text);
        if let Some(plan) = &plan {
            problems.extend(plan_checks::values(plan, text));
        }
        match plan {
            Some(plan) if problems.is_empty() => Ok(plan),
            _ => Err(mistakes(problems, path)),
        }
    }

    /// Every place named must be one of the rig's. `text` is the plan's file.
    ///
    /// # Errors
    /// [`PlanError::Mistakes`] names all that are not.
    pub fn fits(&self, rig: &Rig, text: &str, path: &Path) -> Result<(), PlanError> {
        let problems = plan_checks::places(self, rig, text);
        if problems.is_empty() {
            return Ok(());
        }
        Err(mistakes(problems, path))
    }

    /// How far ahead to look, h.
    #[must_use]
    pub fn forecast_h(&self) -> f64 {
        let longest = self.hold.iter().map(|h| h.hours).fold(0.0, f64::max);
        self.forecast_hours
            .unwrap_or(if longest > 0.0 { longest } else { 24.0 })
    }
}

fn mistakes(mut problems: Vec<RigProblem>, path: &Path) -> PlanError {
    problems.sort_by_key(|p| p.line);
    PlanError::Mistakes {
        path: path.into(),
        problems,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault(text: &str) -> String {
        LimitPlan::parse(text, Path::new("p.toml"))
            .expect_err("a mistake")
            .to_string()
    }

    #[test]
    fn every_mistake_is_named_with_line_key_and_remedy() {
        let all = fault(
            "name = \"x\"\n[[hold]]\nplace = \"all\"\nhour = 3\nwithin_mm = 1\n\
             [[cycle]]\nplace = \"all\"\ntimes = \"three\"\nfill_under_s = 2\n\
             [recordings]\nunexplained_gaps = 0\n",
        );
        let lines: Vec<&str> = all.lines().collect();
        assert!(
            lines[0].starts_with("p.toml: line 4: hour: ") && lines[0].contains("`hours`"),
            "{all}"
        );
        assert!(
            lines.iter().any(|l| l.starts_with("p.toml: line 8: ")),
            "{all}"
        );
        assert!(
            lines
                .iter()
                .any(|l| l.contains("line 10: recordings") && l.contains("`recording`")),
            "{all}"
        );
        assert_eq!(lines.len(), 3, "nothing is told twice: {all}");
    }

    #[test]
    fn values_that_make_no_sense_are_named_all_at_once() {
        assert!(fault("name = \"x\"").contains("line 1: plan: it sets no limit; add [[hold]]"));
        let all = fault(
            "name = \"x\"\nforecast_hours = -1\n[[hold]]\nplace = \"all\"\nhours = -3\nwithin_mm = 1\n\
             [[hold]]\nplace = \"a\"\nhours = 3\nwithin_mm = 1\nwithin_kpa = 1\n\
             [[hold]]\nplace = \"a\"\nhours = 3\n\
             [[cycle]]\nplace = \"a\"\ntimes = 0\n\
             [[duty]]\ncompressor = \"all\"\nbelow_percent = 0\nwindow_min = 10\n",
        );
        let begins = [
            "p.toml: line 2: forecast_hours: ",
            "p.toml: line 5: hours: ",
            "p.toml: line 11: within_kpa: ",
            "p.toml: line 12: within_mm: ",
            "p.toml: line 15: fill_under_s: ",
            "p.toml: line 17: times: ",
            "p.toml: line 20: below_percent: ",
        ];
        for (line, begin) in all.lines().zip(begins) {
            assert!(
                line.starts_with(begin) && line.contains("; "),
                "{begin}: {all}"
            );
        }
        assert_eq!(all.lines().count(), begins.len(), "{all}");
    }
}
