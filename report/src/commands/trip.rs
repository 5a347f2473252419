//! `seep trip`: the whole trip, one sentence first.

use super::{duty, head, judged, lead, leaks, moves, timeline};
use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::Report;
use crate::recording::{Recording, RecordingError};

/// The report.
///
/// # Errors
/// The log's errors.
pub fn report(recording: &Recording) -> Result<Report, RecordingError> {
    let (digest, judgement) = judged(recording)?;
    Ok(of(recording, &digest, &judgement))
}

/// The report of a log that is judged already.
pub(super) fn of(recording: &Recording, digest: &Digest, judgement: &Judgement) -> Report {
    let (verdict, findings) = (judgement.verdict.clone(), judgement.findings.clone());
    let mut report = head::judged_report(recording, digest, "trip", "Trip", verdict, findings);
    report.sections.extend(lead::section(
        recording,
        digest,
        judgement,
        &judgement.findings,
    ));
    report.sections.push(leaks::summary(digest, judgement));
    report
        .sections
        .push(duty::summary(recording, digest, judgement));
    report
        .sections
        .push(moves::short_summary(recording, digest, judgement));
    report.sections.push(timeline::section(recording, digest));
    report.notes.push(head::words_of_tables());
    report.notes.push(
        "More behind each table: `seep leaks`, `seep duty`, `seep moves`, `seep sessions`.".into(),
    );
    report
}
