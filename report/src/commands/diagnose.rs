//! `seep diagnose`: what can be behind it, ranked, and what tells it apart.

use super::{duty, head, judged, lead, leaks, moves, timeline};
use crate::conclusion::{FindingKind, Topic};
use crate::model::{Cell, Column, Finding, Measured, Report, Section, Table, Unit};
use crate::recording::{Recording, RecordingError};

/// Explanations below this share are left out of the table.
const LEAST_SHARE: f64 = 0.005;

/// The report.
///
/// # Errors
/// The log's errors.
pub fn report(recording: &Recording) -> Result<Report, RecordingError> {
    let (digest, judgement) = judged(recording)?;
    let findings = judgement.findings.clone();
    let verdict = judgement.verdict.clone();
    let mut report = head::judged_report(
        recording,
        &digest,
        "diagnose",
        "Diagnosis",
        verdict,
        findings,
    );
    let speaks_of = |topic: Topic| (judgement.findings.iter()).any(|f| f.kind.topic() == topic);
    report.sections.extend(lead::section(
        recording,
        &digest,
        &judgement,
        &judgement.findings,
    ));
    if judgement.findings.iter().any(|f| !f.candidates.is_empty()) {
        report.sections.push(ranking(&judgement.findings));
    }
    report.sections.push(leaks::summary(&digest, &judgement));
    let suspects = suspected_places(&judgement.findings);
    if !suspects.is_empty() {
        report.sections.push(leaks::rests(
            recording,
            &digest,
            &judgement,
            Some(&suspects),
        ));
    }
    if speaks_of(Topic::Paths) {
        report
            .sections
            .push(moves::short_summary(recording, &digest, &judgement));
    }
    if speaks_of(Topic::Compressor) {
        report
            .sections
            .push(duty::summary(recording, &digest, &judgement));
    }
    report.sections.push(timeline::section(recording, &digest));
    report.notes.push(head::words_of_tables());
    report.notes.push(
        "Shares are likelihoods of the explanations against each other on this log, nothing else known; \
         a fault that none of them describes is not among them."
            .into(),
    );
    Ok(report)
}

/// Corners and tank whose air is in question.
fn suspected_places(findings: &[Finding]) -> Vec<String> {
    let mut out: Vec<String> = findings
        .iter()
        .filter(|f| f.kind.topic() == Topic::Air)
        .map(|f| f.place.clone())
        .collect();
    if findings
        .iter()
        .any(|f| f.kind == FindingKind::FillValvePassing)
    {
        out.push("tank".into());
    }
    out.sort();
    out.dedup();
    out
}

fn ranking(findings: &[Finding]) -> Section {
    let mut section = Section::new("ranking", "Explanations");
    let mut table = Table::new(
        "ranking",
        "What can be behind each finding, most likely first",
        vec![
            Column::mixed("finding"),
            Column::text("explanation"),
            Column::number("share", Unit::Percent),
        ],
    );
    for (i, finding) in findings.iter().enumerate() {
        for candidate in finding
            .candidates
            .iter()
            .filter(|c| c.likelihood >= LEAST_SHARE)
        {
            let percent = (100.0 * candidate.likelihood).round();
            table.push(vec![
                Cell::count(i as u64 + 1),
                candidate.name.clone().into(),
                match percent {
                    p if p > 99.0 => Cell::text("over 99"),
                    p if p < 1.0 => Cell::text("under 1"),
                    p => Cell::Number(Measured::exact(p, Unit::Percent)),
                },
            ]);
        }
    }
    section.tables.push(table);
    section
}
