//! `seep verify`: what the file itself is worth.

mod tables;

use super::head;
use crate::conclusion::Conclusion;
use crate::model::{
    ClockState, DataHealth, Finding, MadeFrom, Report, Section, Severity, Text, Verdict,
};
use crate::recording::{Recording, RecordingError, SpanRequest};
use seep_common::store::{Inspection, Salvaged, StoreError, inspect, salvage, sha256_file};
use std::path::Path;

/// Shortest silence without a cause that is listed when the rig is unknown, ms.
const HOLE_MS: i64 = 60_000;

/// The log as a recording, or why it is none, and what a look at the file found.
type Looked = (Result<Recording, String>, Inspection);

/// Look at the log. A file that is sound by itself and yet could not be opened was
/// being changed by its recorder at that moment: another look tells.
fn look(log: &Path, request: &SpanRequest) -> Result<Looked, RecordingError> {
    let mut again = 3;
    loop {
        let opened = match Recording::open_as_stored(log, request) {
            Ok(recording) => Ok(recording),
            Err(e) if is_damage(&e) => Err(e.to_string()),
            Err(e) => return Err(e),
        };
        let hole_ms = opened.as_ref().map_or(HOLE_MS, longest_silence_ms);
        let seen = inspect(log, hole_ms)?;
        again -= 1;
        if opened.is_ok() || !seen.is_sound() || again == 0 {
            return Ok((opened, seen));
        }
    }
}

/// What was found, and what it means for the exit code.
#[derive(Debug)]
pub struct Verified {
    /// The report.
    pub report: Report,
    /// True when the file is damaged and was not copied into a new one.
    pub damaged: bool,
}

/// Look the file over, and copy what can be read of it into `save_to`.
///
/// # Errors
/// The log's errors when it is missing, foreign, or of another schema; the
/// errors of writing the copy. Damage is no error.
pub fn report(
    log: &Path,
    request: &SpanRequest,
    save_to: Option<&Path>,
) -> Result<Verified, RecordingError> {
    let (opened, mut seen) = look(log, request)?;
    if let Err(said) = &opened
        && seen.damage.is_empty()
        && seen.rows.iter().all(|r| r.0 != "session" || r.1 != Ok(0))
    {
        seen.damage.push(said.clone());
    }
    let saved = save_to.map(|to| salvage(log, to)).transpose()?;
    let saved = saved.as_ref().zip(save_to);
    let verdict = verdict(&seen, opened.as_ref().ok(), saved);
    let mut report = match &opened {
        Ok(recording) => head::report(recording, "verify", TITLE, verdict, None),
        Err(_) => without_recording(log, verdict),
    };
    report.findings = findings(&seen, log);
    report.sections = sections(&seen, opened.as_ref().ok(), saved);
    report.notes = notes(&seen);
    let rescued = saved.is_some_and(|(s, _)| s.tables.iter().any(|t| t.0 == "tick" && t.1 > 0));
    Ok(Verified {
        report,
        damaged: !seen.damage.is_empty() && !rescued,
    })
}

const TITLE: &str = "The log file itself";

/// Troubles that a damaged or empty file gives; anything else is an error here too.
fn is_damage(error: &RecordingError) -> bool {
    match error {
        RecordingError::Store(e) => {
            matches!(e, StoreError::Damaged { .. } | StoreError::Sqlite { .. })
        }
        RecordingError::Empty | RecordingError::Rig(_) => true,
        RecordingError::Span(_) => false,
    }
}

/// A silence longer than every source's own limit is a hole.
pub(super) fn longest_silence_ms(recording: &Recording) -> i64 {
    let rig = &recording.rig;
    let longest = rig.sources.iter().map(|s| s.silence_s).fold(0.0, f64::max);
    ((longest + 2.0 * rig.recorder.rest_period_s + 1.0) * 1000.0) as i64
}

fn without_recording(log: &Path, verdict: Verdict) -> Report {
    let made_from = MadeFrom {
        log_file: log
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default()
            .into(),
        log_sha256: sha256_file(log).unwrap_or_default().into(),
        rig_hash: String::new().into(),
        vehicle: String::new().into(),
        from: None,
        to: None,
        zone: "UTC".into(),
        coverage: 0.0,
        clock: ClockState::Unsynced,
        invented: None,
        places: Vec::new(),
    };
    Report::new("verify", TITLE, made_from, verdict, DataHealth::default())
}

fn verdict(
    seen: &Inspection,
    recording: Option<&Recording>,
    saved: Option<(&Salvaged, &Path)>,
) -> Verdict {
    let ticks = rows(seen, "tick");
    if !seen.damage.is_empty() {
        let next = match saved {
            Some((saved, to)) => format!(
                "{} ticks were copied into {}; keep the damaged file.",
                saved
                    .tables
                    .iter()
                    .filter(|t| t.0 == "tick")
                    .map(|t| t.1)
                    .sum::<u64>(),
                file_name(to)
            ),
            None => "keep it as it is and copy what can be read with `--salvage NEW.db`.".into(),
        };
        return Verdict::new(Severity::Act, 1.0, format!("The file is damaged: {next}"));
    }
    let Some(recording) = recording else {
        return Verdict::unknown("The file is sound but holds no recording yet.");
    };
    let what = format!(
        "{} in {}",
        counted(ticks, "row"),
        counted(rows(seen, "session"), "session")
    );
    if let Some(first) = seen.disorder.first() {
        let sentence =
            format!("The file is not damaged ({what}), but something is out of order: {first}.");
        return Verdict::new(Severity::Watch, 1.0, &sentence);
    }
    if let Some(longest) = seen.unexplained_holes.iter().map(|h| h.1 - h.0).max() {
        let sentence = format!(
            "The file is sound ({what}), but {} without data {} no noted cause, the longest {}.",
            counted(seen.unexplained_holes.len() as u64, "stretch"),
            if seen.unexplained_holes.len() == 1 {
                "has"
            } else {
                "have"
            },
            crate::render::duration_words(longest as f64 / 1000.0)
        );
        return Verdict::new(Severity::Watch, 1.0, &sentence);
    }
    let gaps = recording.gaps.len() as u64;
    let gap_words = match gaps {
        0 => "without a gap".to_string(),
        n => format!("and every one of {} has its cause noted", counted(n, "gap")),
    };
    Verdict::new(
        Severity::Fine,
        1.0,
        format!("The file is sound: {what}, nothing damaged, {gap_words}."),
    )
}

fn recording_fault() -> Conclusion {
    Conclusion::RecordingFault {
        place: "log".into(),
    }
}

fn findings(seen: &Inspection, log: &Path) -> Vec<Finding> {
    let name = file_name(log);
    let mut out = Vec::new();
    if !seen.damage.is_empty() {
        out.push(
            Finding::new(
                &recording_fault(),
                Severity::Act,
                1.0,
                "Parts of the file cannot be trusted: SQLite's own check complains.",
            )
            .with_evidence("complaints", crate::model::Cell::count(seen.damage.len() as u64))
            .with_next_check(
                &format!(
                    "Copy the file to another disk first, then `seep verify --log {name} --salvage NEW.db`. \
                     Look for a failing card: read errors in the system log, a supply that sags while \
                     cranking."
                ),
                None,
            ),
        );
    }
    for fault in &seen.disorder {
        out.push(Finding::new(
            &recording_fault(),
            Severity::Watch,
            1.0,
            format!("Out of order: {fault}."),
        ));
    }
    out
}

fn sections(
    seen: &Inspection,
    recording: Option<&Recording>,
    saved: Option<(&Salvaged, &Path)>,
) -> Vec<Section> {
    let mut file = Section::new("file", "The file");
    file.tables.push(tables::rows(seen));
    if !seen.damage.is_empty() {
        file.tables.push(tables::damage(seen));
    }
    let mut out = vec![file];
    if let Some((saved, to)) = saved {
        let mut section = Section::new("salvage", "What was copied");
        section.lead = Some(format!(
            "Into {}; the old file was only read. What could not be read is a gap there, with the cause \
             “{}”.",
            file_name(to),
            seep_common::store::cause::UNREADABLE
        ).into());
        section.tables.push(tables::saved(saved));
        out.push(section);
    }
    if let Some(recording) = recording {
        let mut time = Section::new("time", "Time");
        time.tables.push(tables::clock(recording));
        time.tables.extend(tables::causes(recording));
        if !seen.unexplained_holes.is_empty() {
            time.tables.push(tables::holes(recording, seen));
        }
        time.tables.extend(tables::notices(recording));
        out.push(time);
    }
    out
}

fn notes(seen: &Inspection) -> Vec<Text> {
    let mut out = vec![
        "Read with SQLite's integrity check on a read-only connection; the file is never changed."
            .into(),
    ];
    if seen.pending_bytes > 0 {
        out.push(format!(
            "{} bytes wait in the write-ahead log beside the file and were read with it: copy both \
             files together.",
            seen.pending_bytes
        ).into());
    }
    out
}

fn rows(seen: &Inspection, table: &str) -> u64 {
    seen.rows
        .iter()
        .find(|r| r.0 == table)
        .and_then(|r| r.1.as_ref().ok().copied())
        .unwrap_or(0)
}

/// `1 gap`, `2 gaps`, `3 stretches`.
fn counted(n: u64, what: &str) -> String {
    match (n, what) {
        (1, _) => format!("1 {what}"),
        (_, w) if w.ends_with("ch") => format!("{n} {what}es"),
        _ => format!("{n} {what}s"),
    }
}

fn file_name(path: &Path) -> String {
    path.file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default()
}
