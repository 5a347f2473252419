//! `seep hold`: a deliberate hold of some minutes, with its honest limit.

mod gather;
mod tables;

use super::head;
use crate::analysis::hold::emptying::{Emptying, LARGE_FALL, NoEmptying};
use crate::analysis::hold::{AirSpring, HoldEstimate, NoHold, emptying, estimate};
use crate::analysis::stats::mean;
use crate::findings::{measured, place_words};
use crate::model::{Finding, FindingKind, Measured, Report, Severity, Unit, Verdict};
use crate::plain_units::PlainUnits;
use crate::recording::{Recording, RecordingError};
use crate::render::number::phrase;
use gather::Held;

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

/// What came of one volume.
struct Judged {
    held: Held,
    outcome: Outcome,
}

enum Outcome {
    /// A hold.
    Hold(HoldEstimate),
    /// It lost much of its air.
    Emptying(Result<Emptying, NoEmptying>),
    /// Its own valve or the compressor moved air.
    Disturbed,
    /// Not to be judged.
    Open(NoHold),
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
    units: PlainUnits,
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
    let judged: Vec<Judged> = held.into_iter().map(judge).collect();
    let findings = findings(&judged, units);
    let verdict = verdict(&judged, &findings, units);
    let mut report = head::report(recording, "hold", "Hold", verdict, None);
    report.findings = findings;
    report.sections = tables::sections(&judged);
    report.notes = tables::notes(&judged, units);
    Ok(report)
}

fn judge(held: Held) -> Judged {
    let outcome = if held.disturbed {
        Outcome::Disturbed
    } else if fell(&held) > LARGE_FALL {
        let empty = empty_level(&held);
        Outcome::Emptying(emptying::fit(&held.readings, empty))
    } else {
        match estimate(&held.readings, &held.conditions) {
            Ok(seen) => Outcome::Hold(seen),
            Err(why) => Outcome::Open(why),
        }
    };
    Judged { held, outcome }
}

/// Share of the absolute pressure that was lost.
fn fell(held: &Held) -> f64 {
    let kpa = &held.readings.kpa_abs;
    let few = 5.min(kpa.len());
    match (mean(&kpa[..few]), mean(&kpa[kpa.len() - few..])) {
        (Some(first), Some(last)) if first > 0.0 => 1.0 - last / first,
        _ => 0.0,
    }
}

/// Readings of the last fifth that stand still within this of outside pressure are the
/// sensor's zero, kPa.
const ZERO_ERROR_KPA: f64 = 10.0;

/// What the sensor shows when the volume is empty: the level at which it came to rest
/// near outside pressure, else outside pressure.
fn empty_level(held: &Held) -> f64 {
    let kpa = &held.readings.kpa_abs;
    let outside = held.conditions.outside_kpa_abs;
    let tail = &kpa[kpa.len() - kpa.len() / 5..];
    let (a, b) = tail.split_at(tail.len() / 2);
    match (mean(a), mean(b)) {
        (Some(a), Some(b))
            if (a - b).abs() < 0.1 * ZERO_ERROR_KPA && (b - outside).abs() < ZERO_ERROR_KPA =>
        {
            0.5 * (a + b)
        }
        _ => outside,
    }
}

fn findings(judged: &[Judged], units: PlainUnits) -> Vec<Finding> {
    judged.iter().filter_map(|j| finding(j, units)).collect()
}

fn finding(judged: &Judged, units: PlainUnits) -> Option<Finding> {
    let place = &judged.held.vessel.place;
    let kind = if place == "tank" {
        FindingKind::TankLeak
    } else {
        FindingKind::CornerLeak
    };
    let name = crate::render::capital_words(&place_words(place));
    match &judged.outcome {
        Outcome::Hold(seen) if seen.is_leak => {
            let kpa_per_h = measured(
                &seen.loss_per_s.scaled(seen.kpa_abs * 3600.0),
                Unit::KpaPerHour,
            );
            let size = tables::flow(judged, seen)
                .map_or_else(|| phrase(&kpa_per_h, units), |flow| phrase(&flow, units));
            let at_least = if judged.held.conditions.spring == AirSpring::NoHeight {
                "at least "
            } else {
                ""
            };
            let sentence = format!("{name} loses {at_least}{size} with its valves closed.");
            Some(
                Finding::new(kind, place, Severity::Act, 0.995, &sentence)
                    .with_evidence("equivalent pressure drop", kpa_per_h)
                    .with_evidence("fall as it stands", tables::plain_kpa_per_h(seen))
                    .with_evidence("smallest leak this hold can show", tables::limit(judged, seen))
                    .with_next_check(
                        "Put leak detection fluid on its fittings, then close the line at the \
                         manifold and hold again: a loss that goes on is the bag's or the line's, \
                         one that stops is the valve's.",
                        Some("The line is under pressure, and a car on air alone can sink: support it on stands before reaching under it."),
                    ),
            )
        }
        Outcome::Emptying(Ok(seen)) => {
            let held = &judged.held.readings.kpa_abs;
            let (first, last) = (held.first()?, held.last()?);
            let lost = Measured::exact((first - last).round(), Unit::KpaDifference);
            let sentence = format!(
                "{name} emptied: {} lost in {}.",
                phrase(&lost, units),
                crate::render::duration_words(judged.held.readings.t_s.last()?.round())
            );
            let rate = measured(&seen.per_s.scaled(100.0), Unit::Percent);
            Some(
                Finding::new(kind, place, Severity::Act, 0.995, &sentence)
                    .with_evidence("air lost per second at high pressure", rate),
            )
        }
        _ => None,
    }
}

fn verdict(judged: &[Judged], findings: &[Finding], units: PlainUnits) -> Verdict {
    if let Some(first) = findings.first() {
        let more = match findings.len() - 1 {
            0 => String::new(),
            1 => " One more finding follows.".into(),
            n => format!(" {n} more findings follow."),
        };
        return Verdict {
            sentence: format!("{}{more}", first.sentence),
            certainty: first.certainty,
            severity: first.severity,
        };
    }
    let seen: Vec<(&Judged, &HoldEstimate)> = judged
        .iter()
        .filter_map(|j| match &j.outcome {
            Outcome::Hold(h) => Some((j, h)),
            _ => None,
        })
        .collect();
    let worst = seen
        .iter()
        .max_by(|a, b| a.1.limit_per_s.total_cmp(&b.1.limit_per_s));
    let Some((judged, estimate)) = worst else {
        return Verdict::unknown("Nothing was held: the tables say why for each place.");
    };
    let limit = phrase(&tables::limit(judged, estimate), units);
    let why = if estimate.settling_share > 0.5 {
        " Settling after the last move hides smaller ones: wait and hold again."
    } else {
        " A longer hold or a night shows smaller ones."
    };
    Verdict::unknown(&format!(
        "No leak seen; this hold shows leaks above {limit} ({}).{why}",
        place_words(&judged.held.vessel.place)
    ))
}
