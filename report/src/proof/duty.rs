//! Compressor duty in its worst window.

use super::{DutyLimit, JudgedLimit, Outcome};
use crate::analysis::duty::{Timeline, whole, worst_window};
use crate::model::{Measured, Unit};

/// The worst window with enough known time, against the limit.
pub(super) fn judge(limit: &DutyLimit, place: &str, timeline: Option<&Timeline>) -> JudgedLimit {
    let worst = timeline.and_then(|t| worst_window(t, 60.0 * limit.window_min));
    let percent = worst.and_then(|w| w.percent());
    let outcome = match percent {
        None if timeline.is_none() => Outcome::Open("its running is not recorded".into()),
        None => Outcome::Open("no window of that length is known well enough".into()),
        Some(p) if p >= limit.below_percent => Outcome::Fail,
        Some(_) => Outcome::Pass,
    };
    let known = timeline.and_then(whole).map(|w| w.known_s);
    JudgedLimit {
        place: place.into(),
        what: format!("worst duty in {} min", limit.window_min),
        limit: Measured::exact(limit.below_percent, Unit::Percent),
        measured: percent.map(|p| Measured::exact((p * 10.0).round() / 10.0, Unit::Percent)),
        outcome,
        behind: known.map_or_else(
            || "nothing".into(),
            |s| format!("{} of known time", crate::render::duration_words(s)).into(),
        ),
    }
}
