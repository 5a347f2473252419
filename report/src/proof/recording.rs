//! The recording itself: nothing missing without a reason.

use super::{JudgedLimit, Outcome, RecordingLimit};
use crate::digest::Digest;
use crate::model::{Measured, Unit};
use crate::recording::Recording;

/// Gaps whose cause explains nothing, and silences without a gap record.
#[must_use]
pub fn unexplained(
    limit: &RecordingLimit,
    recording: &Recording,
    holes: &[(i64, i64)],
) -> Vec<(i64, i64)> {
    let (from, to) = (recording.span.from_t_ms, recording.span.to_t_ms);
    let mut out: Vec<(i64, i64)> = recording
        .gaps
        .iter()
        .filter(|g| !limit.causes.contains(&g.cause))
        .map(|g| (g.from_t_ms, g.to_t_ms))
        .chain(holes.iter().copied().filter(|h| h.1 > from && h.0 < to))
        .collect();
    out.sort_unstable();
    out.dedup();
    out
}

/// Unexplained gaps and coverage.
pub(super) fn judge(
    limit: &RecordingLimit,
    recording: &Recording,
    digest: &Digest,
    holes: &[(i64, i64)],
) -> Vec<JudgedLimit> {
    let found = unexplained(limit, recording, holes);
    let longest = found.iter().map(|g| g.1 - g.0).max().unwrap_or(0);
    let mut out = vec![JudgedLimit {
        place: "log".into(),
        what: "gaps without a cause".into(),
        limit: Measured::count(limit.unexplained_gaps as u64),
        measured: Some(Measured::count(found.len() as u64)),
        outcome: if found.len() <= limit.unexplained_gaps {
            Outcome::Pass
        } else {
            Outcome::Fail
        },
        behind: if found.is_empty() {
            format!("{} gaps, all explained", recording.gaps.len()).into()
        } else {
            format!(
                "the longest {}",
                crate::render::duration_words(longest as f64 / 1000.0)
            )
            .into()
        },
    }];
    if let Some(least) = limit.coverage_percent {
        let span_s = (recording.span.to_t_ms - recording.span.from_t_ms) as f64 / 1000.0;
        let percent = (100.0 * digest.recorded_s / span_s).min(100.0);
        out.push(JudgedLimit {
            place: "log".into(),
            what: "recorded, at least".into(),
            limit: Measured::exact(least, Unit::Percent),
            measured: Some(Measured::exact(
                (percent * 10.0).floor() / 10.0,
                Unit::Percent,
            )),
            outcome: if percent >= least {
                Outcome::Pass
            } else {
                Outcome::Fail
            },
            behind: format!(
                "{} recorded",
                crate::render::duration_words(digest.recorded_s)
            )
            .into(),
        });
    }
    out
}
