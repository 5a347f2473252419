//! The plan of a proof run: what the car must show before it goes.

use seep_common::rig::Rig;
use seep_common::store::cause;
use seep_common::text_file::read_text;
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// No plan is larger, bytes.
const MOST_BYTES: u64 = 1 << 20;

/// A plan as written.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// What it is for.
    pub name: String,
    /// Who signs; a builder and a witness unless said.
    #[serde(default = "two_people")]
    pub signatures: Vec<String>,
    /// How far ahead the forecast looks, h; the longest hold unless said.
    pub forecast_hours: Option<f64>,
    /// Limits on what is lost at rest.
    #[serde(default)]
    pub hold: Vec<Hold>,
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
pub struct Hold {
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
    /// Not TOML, an unknown key, or a value of another kind.
    #[error("{}: {message}", .path.display())]
    Syntax {
        /// The file.
        path: PathBuf,
        /// Where and what, as several lines.
        message: String,
    },
    /// A value that makes no sense.
    #[error("{}: {key}: {problem}", .path.display())]
    Value {
        /// The file.
        path: PathBuf,
        /// The key, as `hold 1: hours`.
        key: String,
        /// What is wrong and what to write.
        problem: String,
    },
    /// A place that the log's rig does not have.
    #[error("{}: there is no `{place}` in the rig of this log; it has {known}", .path.display())]
    NoSuchPlace {
        /// The file.
        path: PathBuf,
        /// The word in the plan.
        place: String,
        /// What the rig has.
        known: String,
    },
}

impl Plan {
    /// Read a plan file.
    ///
    /// # Errors
    /// [`PlanError`] says what is wrong and where.
    pub fn read(path: &Path) -> Result<(Plan, String), PlanError> {
        let text = read_text(path, MOST_BYTES).map_err(|source| PlanError::Read {
            path: path.into(),
            source,
        })?;
        Ok((Plan::parse(&text, path)?, text))
    }

    /// Read a plan from its text; `path` is only named in errors.
    ///
    /// # Errors
    /// As [`Plan::read`].
    ///
    /// ```
    /// use seep_report::proof::Plan;
    /// let text = "name = \"invented\"\n[[hold]]\nplace = \"all\"\nhours = 12\nwithin_mm = 5";
    /// let plan = Plan::parse(text, "plan.toml".as_ref()).unwrap();
    /// assert_eq!(plan.hold[0].hours, 12.0);
    /// ```
    pub fn parse(text: &str, path: &Path) -> Result<Plan, PlanError> {
        let plan: Plan = toml::from_str(text).map_err(|e| PlanError::Syntax {
            path: path.into(),
            message: e.to_string(),
        })?;
        match plan.first_fault() {
            None => Ok(plan),
            Some((key, problem)) => Err(PlanError::Value {
                path: path.into(),
                key,
                problem: problem.into(),
            }),
        }
    }

    fn first_fault(&self) -> Option<(String, &'static str)> {
        let above_zero = |x: f64| x.is_finite() && x > 0.0;
        if self.hold.is_empty()
            && self.cycle.is_empty()
            && self.duty.is_empty()
            && self.recording.is_none()
        {
            return Some((
                "the plan".into(),
                "sets no limit; add [[hold]], [[cycle]], [[duty]] or [recording]",
            ));
        }
        let number = "is not a number above 0";
        for (i, h) in self.hold.iter().enumerate() {
            let key = |k: &str| format!("hold {}: {k}", i + 1);
            if !above_zero(h.hours) {
                return Some((key("hours"), number));
            }
            match (h.within_mm, h.within_kpa) {
                (None, None) => {
                    return Some((key("within_mm"), "is missing; give within_mm or within_kpa"));
                }
                (Some(_), Some(_)) => {
                    return Some((
                        key("within_kpa"),
                        "stands beside within_mm; make two holds of it",
                    ));
                }
                (Some(x), None) | (None, Some(x)) if !above_zero(x) => {
                    return Some((key("within"), number));
                }
                _ => {}
            }
        }
        for (i, c) in self.cycle.iter().enumerate() {
            let limits = [c.fill_under_s, c.dump_under_s];
            if limits.iter().flatten().any(|x| !above_zero(*x)) || c.times == 0 {
                return Some((
                    format!("cycle {}", i + 1),
                    "times and seconds must be above 0",
                ));
            }
            if limits.iter().all(Option::is_none) {
                return Some((
                    format!("cycle {}", i + 1),
                    "has no limit; give fill_under_s or dump_under_s",
                ));
            }
        }
        for (i, d) in self.duty.iter().enumerate() {
            if !above_zero(d.below_percent) || !above_zero(d.window_min) {
                return Some((
                    format!("duty {}", i + 1),
                    "below_percent and window_min must be above 0",
                ));
            }
        }
        None
    }

    /// Every place named must be one of the rig's.
    ///
    /// # Errors
    /// [`PlanError::NoSuchPlace`] names the first that is not.
    pub fn fits(&self, rig: &Rig, path: &Path) -> Result<(), PlanError> {
        let mut circuits: Vec<&str> = rig.circuits.iter().map(|c| c.name.as_str()).collect();
        let compressors: Vec<&str> = rig.compressors.iter().map(|c| c.name.as_str()).collect();
        let find = |word: &str, known: &[&str]| {
            if word == "all" || known.contains(&word) {
                return Ok(());
            }
            Err(PlanError::NoSuchPlace {
                path: path.into(),
                place: word.into(),
                known: known.join(", "),
            })
        };
        for cycle in &self.cycle {
            find(&cycle.place, &circuits)?;
        }
        if rig.tank.is_some() {
            circuits.push("tank");
        }
        for hold in &self.hold {
            find(&hold.place, &circuits)?;
        }
        for duty in &self.duty {
            find(&duty.compressor, &compressors)?;
        }
        Ok(())
    }

    /// How far ahead to look, h.
    #[must_use]
    pub fn forecast_h(&self) -> f64 {
        let longest = self.hold.iter().map(|h| h.hours).fold(0.0, f64::max);
        self.forecast_hours
            .unwrap_or(if longest > 0.0 { longest } else { 24.0 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault(text: &str) -> String {
        Plan::parse(text, Path::new("p.toml"))
            .expect_err("a mistake")
            .to_string()
    }

    #[test]
    fn mistakes_are_named_with_their_place() {
        let unknown = fault("name = \"x\"\n[[hold]]\nplace = \"all\"\nhour = 3\nwithin_mm = 1");
        assert!(
            unknown.contains("line 4") && unknown.contains("`hours`"),
            "{unknown}"
        );
        assert!(fault("name = \"x\"").contains("sets no limit"));
        let negative = fault("name = \"x\"\n[[hold]]\nplace = \"all\"\nhours = -3\nwithin_mm = 1");
        assert!(
            negative.contains("hold 1: hours: is not a number above 0"),
            "{negative}"
        );
        let both = fault(
            "name = \"x\"\n[[hold]]\nplace = \"a\"\nhours = 3\nwithin_mm = 1\nwithin_kpa = 1",
        );
        assert!(both.contains("two holds"), "{both}");
    }
}
