//! `seep hold`: a deliberate hold of some minutes, with its honest limit.

mod conclusion;
mod gather;
mod judged;
mod tables;

use super::head;
use crate::model::Report;
use crate::recording::{Recording, RecordingError};
use judged::{JudgedHold, judge};

/// A hold is at most this long; `seep leaks` judges longer rests.
const LONGEST_S: f64 = 3600.0;

/// Why a hold is not judged at all.
#[derive(Debug, thiserror::Error)]
pub enum HoldError {
    /// The log.
    #[error(transparent)]
    Recording(#[from] RecordingError),
    /// Longer than a hold.
    #[error(
        "the span is {0} long; a hold is at most an hour: give its begin and end with --from and --to \
         (`seep leaks` judges longer rests)"
    )]
    TooLong(String),
    /// No place of that name has a pressure.
    #[error("no pressure of `{name}` was recorded in that span; there is {known}")]
    NoSuchPlace {
        /// The name asked for.
        name: String,
        /// Those that have one.
        known: String,
    },
}

/// Judges the span as a hold. `place` limits it to one volume; `since_move_s` replaces
/// what the log knows of the last fill, dump or run.
///
/// # Errors
/// [`HoldError`]: the log, the length of the span, or the place.
pub fn report(
    recording: &Recording,
    before: &Recording,
    place: Option<&str>,
    since_move_s: Option<f64>,
) -> Result<Report, HoldError> {
    let length_s = (recording.span.to_t_ms - recording.span.from_t_ms) as f64 / 1000.0;
    if length_s > LONGEST_S {
        return Err(HoldError::TooLong(crate::render::duration_words(length_s)));
    }
    let mut held = gather::gather(recording, before, since_move_s)?;
    if let Some(name) = place {
        let known: Vec<String> = held.iter().map(|h| h.vessel.place.clone()).collect();
        held.retain(|h| h.vessel.place == name);
        if held.is_empty() {
            let known = if known.is_empty() {
                "none".into()
            } else {
                known.join(", ")
            };
            return Err(HoldError::NoSuchPlace {
                name: name.into(),
                known,
            });
        }
    }
    let judged: Vec<JudgedHold> = held.into_iter().map(judge).collect();
    let findings = conclusion::findings(&judged);
    let verdict = conclusion::verdict(&judged, &findings);
    let mut report = head::report(recording, "hold", "Hold", verdict, None);
    report.findings = findings;
    report.sections = tables::sections(&judged);
    report.notes = tables::notes(&judged);
    Ok(report)
}
