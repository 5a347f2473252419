//! A hook for what needs attention: a command of the user gets it as JSON, once.

use crate::model::{Finding, Label, Report, Severity, WallTime};
use crate::output::{Destination, OutputError, write};
use crate::render::text_in;
use crate::render::units::DisplayUnits;
use serde::{Deserialize, Serialize};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// A finding that was gone for so long is told again, ms of the log.
const FORGOTTEN_AFTER_MS: i64 = 7 * 86_400_000;

/// Why nobody could be told.
#[derive(Debug, thiserror::Error)]
pub enum NotifyError {
    /// No command is named.
    #[error(
        "--notify needs a command: write `[notify]` and `command = [\"program\", \"argument\"]` into seep.toml"
    )]
    NoCommand,
    /// There is no place to remember what was told.
    #[error(
        "--notify remembers what it told, and knows no folder for that: set HOME or STATE_DIRECTORY"
    )]
    NoFolder,
    /// The memory cannot be read.
    #[error("{}: cannot read what was told; move the file away to tell everything again", .path.display())]
    Memory {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },
    /// The memory cannot be written.
    #[error(transparent)]
    Output(#[from] OutputError),
    /// The command cannot be run.
    #[error("the notify command `{command}` cannot be run")]
    Run {
        /// Its first word.
        command: String,
        /// The system's reason.
        source: io::Error,
    },
    /// The command failed; the same is told again next time.
    #[error(
        "the notify command `{command}` failed ({status}); the findings are told again next time"
    )]
    Failed {
        /// Its first word.
        command: String,
        /// How it ended.
        status: String,
    },
}

/// What the command gets.
#[derive(Debug, Serialize)]
struct Notice<'a> {
    schema: &'static str,
    vehicle: &'a Label,
    log: &'a Label,
    recorded_to: Option<String>,
    severity: Severity,
    verdict: String,
    findings: Vec<Finding>,
    caution: &'static str,
}

/// A finding that was told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Known {
    what: String,
    last_seen_unix_ms: i64,
}

/// Tells the findings that ask for attention and were not told before; says in a
/// sentence what was done.
///
/// # Errors
/// [`NotifyError`]; nothing is remembered then.
pub fn tell(
    report: &Report,
    log: &Path,
    command: &[String],
    units: DisplayUnits,
) -> Result<String, NotifyError> {
    let (program, arguments) = command.split_first().ok_or(NotifyError::NoCommand)?;
    let path = memory(log).ok_or(NotifyError::NoFolder)?;
    let known = remembered(&path)?;
    let now = report.made_from.to.as_ref().map_or(0, WallTime::unix_ms);
    let new = untold(&report.findings, &known, now);
    if !new.is_empty() {
        run(program, arguments, &notice(report, new.clone(), units))?;
    }
    remember(&path, log, &updated(&report.findings, known, now))?;
    Ok(format!("notify: {} findings told", new.len()))
}

fn key(finding: &Finding) -> String {
    format!(
        "{} at {}, {}",
        finding.kind.name(),
        finding.place,
        finding.severity.word()
    )
}

fn asks_for_attention(finding: &&Finding) -> bool {
    finding.severity > Severity::Unknown
}

fn untold<'a>(findings: &'a [Finding], known: &[Known], now: i64) -> Vec<&'a Finding> {
    let fresh = |k: &Known| now - k.last_seen_unix_ms <= FORGOTTEN_AFTER_MS;
    let told = |f: &Finding| known.iter().any(|k| k.what == key(f) && fresh(k));
    let loud = findings.iter().filter(asks_for_attention);
    loud.filter(|f| !told(f)).collect()
}

fn updated(findings: &[Finding], mut known: Vec<Known>, now: i64) -> Vec<Known> {
    for finding in findings.iter().filter(asks_for_attention) {
        let what = key(finding);
        known.retain(|k| k.what != what);
        known.push(Known {
            what,
            last_seen_unix_ms: now,
        });
    }
    known.retain(|k| now - k.last_seen_unix_ms <= FORGOTTEN_AFTER_MS);
    known.sort_by(|a, b| a.what.cmp(&b.what));
    known
}

fn notice<'a>(report: &'a Report, findings: Vec<&Finding>, units: DisplayUnits) -> Notice<'a> {
    Notice {
        schema: "seep-notice/1",
        vehicle: &report.made_from.vehicle,
        log: &report.made_from.log_file,
        recorded_to: report.made_from.to.as_ref().map(|t| t.at.to_string()),
        severity: report.verdict.severity,
        verdict: text_in(&report.verdict.sentence, units),
        findings: findings.into_iter().map(|f| readable(f, units)).collect(),
        caution: crate::findings::AIR_CAUTION,
    }
}

/// A person may read the notice: its sentence is in the units of the verdict.
fn readable(finding: &Finding, units: DisplayUnits) -> Finding {
    Finding {
        sentence: text_in(&finding.sentence, units).into(),
        ..finding.clone()
    }
}

fn run(program: &str, arguments: &[String], notice: &Notice) -> Result<(), NotifyError> {
    let failed = |source: io::Error| NotifyError::Run {
        command: program.into(),
        source,
    };
    let text = serde_json::to_string_pretty(notice).map_err(|e| failed(e.into()))?;
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::piped())
        .spawn()
        .map_err(failed)?;
    if let Some(mut stdin) = child.stdin.take() {
        // A command that does not read it all is judged by how it ends.
        let _ = stdin.write_all(text.as_bytes());
    }
    let status = child.wait().map_err(failed)?;
    if status.success() {
        return Ok(());
    }
    Err(NotifyError::Failed {
        command: program.into(),
        status: status.to_string(),
    })
}

/// Where it is kept what was told of a log: systemd's state folder, else the user's.
fn memory(log: &Path) -> Option<PathBuf> {
    let of = |name: &str| {
        std::env::var_os(name)
            .filter(|v| !v.is_empty())
            .map(PathBuf::from)
    };
    let folder = of("STATE_DIRECTORY")
        .or_else(|| of("XDG_STATE_HOME").map(|f| f.join("seep")))
        .or_else(|| of("HOME").map(|f| f.join(".local/state/seep")))?;
    let whole = log.canonicalize().unwrap_or_else(|_| log.to_path_buf());
    let name = whole.to_string_lossy().replace('/', "%");
    Some(folder.join(format!("told{name}.json")))
}

fn remembered(path: &Path) -> Result<Vec<Known>, NotifyError> {
    let unreadable = |source: io::Error| NotifyError::Memory {
        path: path.into(),
        source,
    };
    match std::fs::read_to_string(path) {
        Ok(text) => serde_json::from_str(&text).map_err(|e| unreadable(e.into())),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
        Err(e) => Err(unreadable(e)),
    }
}

fn remember(path: &Path, log: &Path, known: &[Known]) -> Result<(), NotifyError> {
    let unwritable = |source: io::Error| NotifyError::Memory {
        path: path.into(),
        source,
    };
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(unwritable)?;
    }
    let text = serde_json::to_string_pretty(known).map_err(|e| unwritable(e.into()))?;
    Ok(write(&text, &Destination::File(path.into()), log)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conclusion::Conclusion;

    const DAY_MS: i64 = 86_400_000;

    fn leak(severity: Severity) -> Finding {
        Finding::new(
            &Conclusion::CornerLeak {
                place: "rear_left".into(),
            },
            severity,
            0.99,
            "Invented.",
        )
    }

    /// Night after night: told once, told again when it grows or was gone for a week.
    #[test]
    fn a_finding_is_told_once() {
        let watch = [leak(Severity::Watch)];
        assert_eq!(untold(&watch, &[], 0).len(), 1);
        let mut known = updated(&watch, Vec::new(), 0);
        for night in 1..30 {
            assert!(
                untold(&watch, &known, night * DAY_MS).is_empty(),
                "night {night}"
            );
            known = updated(&watch, known, night * DAY_MS);
        }
        let act = [leak(Severity::Act)];
        assert_eq!(untold(&act, &known, 30 * DAY_MS).len(), 1, "it grew");
        let gone = updated(&[], known.clone(), 31 * DAY_MS);
        assert!(
            untold(&watch, &gone, 32 * DAY_MS).is_empty(),
            "a night away is not gone"
        );
        assert_eq!(
            untold(&watch, &gone, 38 * DAY_MS).len(),
            1,
            "a week away is"
        );
    }

    #[test]
    fn what_needs_nothing_is_not_told() {
        assert!(untold(&[leak(Severity::Fine), leak(Severity::Unknown)], &[], 0).is_empty());
    }
}
