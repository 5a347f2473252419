//! What a hold comes to, in sentences.

use super::judged::{HoldOutcome, JudgedHold};
use super::tables;
use crate::analysis::hold::{AirSpring, HoldEstimate};
use crate::conclusion::Conclusion;
use crate::findings::{measured, place_words};
use crate::model::{Finding, Measured, Severity, Unit, Verdict};
use crate::text;

pub(super) fn findings(judged: &[JudgedHold]) -> Vec<Finding> {
    judged.iter().filter_map(finding).collect()
}

fn finding(judged: &JudgedHold) -> Option<Finding> {
    let place = &judged.held.vessel.place;
    let leak = if place == "tank" {
        Conclusion::TankLeak
    } else {
        Conclusion::CornerLeak {
            place: place.clone(),
        }
    };
    let name = crate::render::capital_words(&place_words(place));
    match &judged.outcome {
        HoldOutcome::Hold(seen) if seen.is_leak => {
            let kpa_per_h = measured(
                &seen.loss_per_s.scaled(seen.kpa_abs * 3600.0),
                Unit::KpaPerHour,
            );
            let size = tables::flow(judged, seen).unwrap_or(kpa_per_h);
            let at_least = if judged.held.conditions.spring == AirSpring::NoHeight {
                "at least "
            } else {
                ""
            };
            let sentence = text![name, " loses ", at_least, size, " with its valves closed."];
            Some(
                Finding::new(&leak, Severity::Act, 0.995, &sentence)
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
        HoldOutcome::Emptying(Ok(seen)) => {
            let held = &judged.held.readings.kpa_abs;
            let (first, last) = (held.first()?, held.last()?);
            let lost = Measured::exact((first - last).round(), Unit::KpaDifference);
            let seconds = judged.held.readings.t_s.last()?.round();
            let sentence = text![
                name,
                " emptied: ",
                lost,
                " lost in ",
                crate::render::duration_words(seconds),
                "."
            ];
            let rate = measured(&seen.per_s.scaled(100.0), Unit::Percent);
            Some(
                Finding::new(&leak, Severity::Act, 0.995, &sentence)
                    .with_evidence("air lost per second at high pressure", rate),
            )
        }
        _ => None,
    }
}

pub(super) fn verdict(judged: &[JudgedHold], findings: &[Finding]) -> Verdict {
    if let Some(first) = findings.first() {
        let more = match findings.len() - 1 {
            0 => String::new(),
            1 => " One more finding follows.".into(),
            n => format!(" {n} more findings follow."),
        };
        return Verdict {
            sentence: text![&first.sentence, more],
            certainty: first.certainty,
            severity: first.severity,
        };
    }
    let seen: Vec<(&JudgedHold, &HoldEstimate)> = judged
        .iter()
        .filter_map(|j| match &j.outcome {
            HoldOutcome::Hold(h) => Some((j, h)),
            _ => None,
        })
        .collect();
    let worst = seen
        .iter()
        .max_by(|a, b| a.1.limit_per_s.total_cmp(&b.1.limit_per_s));
    let Some((judged, estimate)) = worst else {
        return Verdict::unknown("Nothing was held: the tables say why for each place.");
    };
    let limit = tables::limit(judged, estimate);
    let why = if estimate.settling_share > 0.5 {
        " Settling after the last move hides smaller ones: wait and hold again."
    } else {
        " A longer hold or a night shows smaller ones."
    };
    Verdict::unknown(text![
        "No leak seen; this hold shows leaks above ",
        limit,
        format!(" ({}).", place_words(&judged.held.vessel.place)),
        why
    ])
}
