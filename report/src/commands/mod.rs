//! One file per subcommand: load, judge, lay out as a report value.

pub mod against;
pub mod cars;
pub mod diagnose;
pub mod duty;
pub mod export;
pub mod leaks;
pub mod moves;
pub mod proof;
pub mod sessions;
pub mod trip;
pub mod verify;

mod head;
mod switching;
mod timeline;

use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::{Finding, FindingKind, Verdict};
use crate::plain_units::PlainUnits;
use crate::recording::{Recording, RecordingError};

/// Read and judge a recording; sentences are in `units`.
fn judged(recording: &Recording, units: PlainUnits) -> Result<(Digest, Judgement), RecordingError> {
    let bar = crate::progress::sessions(recording.sessions.len());
    let digest = Digest::build(recording, |done| bar.set_position(done as u64))?;
    bar.finish_and_clear();
    let judgement = Judgement::in_units(&digest, &recording.rig, units);
    Ok((digest, judgement))
}

/// The findings that one command speaks about.
fn findings_of(judgement: &Judgement, kinds: &[FindingKind]) -> Vec<Finding> {
    judgement
        .findings
        .iter()
        .filter(|f| kinds.contains(&f.kind))
        .cloned()
        .collect()
}

/// The most urgent finding as the first sentence.
fn verdict_of(findings: &[Finding]) -> Option<Verdict> {
    findings.first().map(|first| Verdict {
        sentence: first.sentence.clone(),
        certainty: first.certainty,
        severity: first.severity,
    })
}
