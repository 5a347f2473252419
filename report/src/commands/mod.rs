//! One file per subcommand: load, judge, lay out as a report value.

pub mod against;
pub mod bundle;
pub mod cars;
pub mod diagnose;
pub mod duty;
pub mod export;
pub mod hold;
pub mod leaks;
pub mod moment;
pub mod moves;
pub mod proof;
pub mod sessions;
pub mod trip;
pub mod verify;
pub mod volumes;

mod brief;
mod delivery_plot;
mod head;
mod hidden_lines;
mod lead;
mod ledger;
mod longest_rest;
mod night;
mod path_plots;
mod positions;
mod sides;
mod switching;
mod timeline;

use crate::conclusion::Topic;
use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::{Finding, Severity, Verdict};
use crate::recording::{Recording, RecordingError};
use crate::text;

/// Read and judge a recording.
fn judged(recording: &Recording) -> Result<(Digest, Judgement), RecordingError> {
    let bar = crate::progress::sessions(recording.sessions.len());
    recording.while_hashing(|| {
        let digest = Digest::build(recording, |done| bar.set_position(done as u64))?;
        bar.finish_and_clear();
        let judgement = Judgement::with_cache(&digest, &recording.rig, recording.cache());
        Ok((digest, judgement))
    })
}

/// The findings that one command speaks about.
fn findings_of(judgement: &Judgement, topics: &[Topic]) -> Vec<Finding> {
    judgement
        .findings
        .iter()
        .filter(|f| topics.contains(&f.kind.topic()))
        .cloned()
        .collect()
}

/// A report on one thing only must not sound as if nothing else were wrong.
fn and_elsewhere(verdict: Verdict, own: &[Finding], judgement: &Judgement) -> Verdict {
    let alarms = |all: &[Finding]| {
        all.iter()
            .filter(|f| f.severity > Severity::Unknown)
            .count()
    };
    let others = alarms(&judgement.findings).saturating_sub(alarms(own));
    let more = match others {
        0 => return verdict,
        1 => "Something else was found: see `seep trip`.".to_string(),
        n => format!("{n} other things were found: see `seep trip`."),
    };
    Verdict {
        sentence: text![&verdict.sentence, " ", more],
        ..verdict
    }
}

/// The most urgent finding as the first sentence.
fn verdict_of(findings: &[Finding]) -> Option<Verdict> {
    findings.first().map(|first| Verdict {
        sentence: first.sentence.clone(),
        certainty: first.certainty,
        severity: first.severity,
    })
}
