//! Logs judged side by side, each on its own.

use super::HowRead;
use super::overnight::{Overnight, overnight};
use crate::commands::head;
use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::{Finding, Report, Severity};
use crate::parallel;
use crate::recording::{Recording, RecordingError, SpanRequest};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// One log, judged.
#[derive(Debug)]
pub(super) struct JudgedCar {
    /// Its path as found.
    pub path: PathBuf,
    /// Head, verdict and findings; no sections.
    pub report: Report,
    /// Hours until a volume that loses air reaches a limit of the rig, the soonest.
    pub hours_left: Option<f64>,
    /// What it loses overnight.
    pub overnight: Overnight,
}

impl JudgedCar {
    /// The finding that makes it urgent.
    pub(super) fn worst(&self) -> Option<&Finding> {
        self.report.findings.iter().max_by(|a, b| {
            let rank = |f: &Finding| (f.severity, f.certainty.percent.unwrap_or(0.0));
            let ((a, p), (b, q)) = (rank(a), rank(b));
            a.cmp(&b).then(p.total_cmp(&q))
        })
    }

    /// Findings that ask for something.
    pub(super) fn alarms(&self) -> usize {
        let asks = |f: &&Finding| f.severity > Severity::Unknown;
        self.report.findings.iter().filter(asks).count()
    }

    /// Wall time of its last row, Unix ms.
    pub(super) fn ends_ms(&self) -> Option<i64> {
        self.report
            .made_from
            .to
            .as_ref()
            .map(crate::model::WallTime::unix_ms)
    }
}

/// Every log, in the order of the paths, on up to `jobs` threads.
pub(super) fn all(
    logs: &[PathBuf],
    request: &SpanRequest,
    how: &HowRead,
    jobs: usize,
) -> Vec<Result<JudgedCar, String>> {
    let bar = crate::progress::logs(logs.len());
    let cars = parallel::map(logs, jobs, |log| {
        let judged = one_safely(log, request, how);
        bar.inc(1);
        judged
    });
    bar.finish_and_clear();
    cars
}

/// A log that trips the program must not take the others with it.
fn one_safely(log: &Path, request: &SpanRequest, how: &HowRead) -> Result<JudgedCar, String> {
    match catch_unwind(AssertUnwindSafe(|| one(log, request, how))) {
        Ok(Ok(car)) => Ok(car),
        Ok(Err(error)) => Err(error.to_string()),
        Err(_) => Err("seep failed on this log; please report it, `seep verify` says more".into()),
    }
}

/// A car is as it was left: where nothing else is asked for, what came before the last
/// note (a repair, most often) does not count any more.
fn since_last_note(log: &Path, request: &SpanRequest) -> Result<Recording, RecordingError> {
    let asked = request.from.is_some() || request.to.is_some() || request.last.is_some();
    if asked {
        return Recording::open(log, request);
    }
    let since = SpanRequest {
        last: Some("note".into()),
        ..request.clone()
    };
    match Recording::open(log, &since) {
        // Nothing is noted, or nothing was recorded since.
        Err(RecordingError::Span(_)) => Recording::open(log, request),
        other => other,
    }
}

fn one(log: &Path, request: &SpanRequest, how: &HowRead) -> Result<JudgedCar, RecordingError> {
    let recording = since_last_note(log, request)?
        .on_one_thread()
        .with_cache(how.cache.clone())
        .in_brief(how.is_brief);
    let digest = Digest::build(&recording, |_| {})?;
    let judgement = Judgement::with_cache(&digest, &recording.rig, recording.cache());
    let hours_left = judgement
        .forecasts
        .iter()
        .map(|f| f.1.hours)
        .min_by(f64::total_cmp);
    let overnight = overnight(&judgement);
    let report = head::judged_report(
        &recording,
        &digest,
        "cars",
        super::TITLE,
        judgement.verdict,
        judgement.findings,
    );
    Ok(JudgedCar {
        path: log.to_path_buf(),
        report,
        hours_left,
        overnight,
    })
}
