//! Findings about sensors and switches.

use super::{AIR_CAUTION, measured, place_words};
use crate::analysis::diagnose::{CutOutShift, ZeroDrift};
use crate::conclusion::Conclusion;
use crate::model::{Cell, Finding, Measured, Severity, Unit};
use crate::text;

/// Pressure sensors whose zero drifts.
#[must_use]
pub fn drift_findings(found: &[ZeroDrift]) -> Vec<Finding> {
    found.iter().map(drift).collect()
}

fn drift(d: &ZeroDrift) -> Finding {
    let sentence = text![
        "The pressure sensor of ",
        place_words(&d.place),
        " drifts by ",
        measured(&d.kpa_per_day, Unit::KpaPerDay),
        ": ",
        if d.place == "tank" {
            "cut-out and rests move alike"
        } else {
            "it reads differently at the same height, and creeps while the height stays"
        },
        "."
    ];
    Finding::new(
        &Conclusion::SensorZeroDrift { place: d.place.clone() },
        Severity::Watch,
        d.probability,
        &sentence,
    )
    .with_evidence(
        "drift from day to day",
        measured(&d.kpa_per_day, Unit::KpaPerDay),
    )
    .with_evidence(
        "creep within rests",
        measured(&d.within_kpa_per_day, Unit::KpaPerDay),
    )
    .with_evidence("days it was seen over", days(d.days))
    .with_evidence("rests or runs behind it", Cell::count(d.rests as u64))
    .with_next_check(
        "Let this circuit down to empty and read the sensor: what it shows beyond zero gauge is its \
         offset. Note it in the rig from that day on; the recorded history stays as it is.",
        Some(AIR_CAUTION),
    )
    .with_separation("Sensor against load: weigh the car, or read again with the circuit vented.")
}

/// A cut-out that moves.
#[must_use]
pub fn shift_finding(s: &CutOutShift) -> Finding {
    let sentence = text![
        "The tank pressure at which the compressor stops has moved by ",
        measured(&s.kpa_per_day.scaled(s.days), Unit::KpaDifference),
        " during this log: its pressure switch, or the tank's sensor."
    ];
    let mut f = Finding::new(
        &Conclusion::PressureSwitchShift,
        Severity::Watch,
        0.99,
        &sentence,
    )
    .with_evidence(
        "shift of the cut-out",
        measured(&s.kpa_per_day, Unit::KpaPerDay),
    );
    if let Some(cut_in) = &s.cut_in_kpa_per_day {
        f = f.with_evidence("shift of the cut-in", measured(cut_in, Unit::KpaPerDay));
    }
    f.with_evidence("days from first to last run", days(s.days))
        .with_evidence("runs behind it", Cell::count(s.runs as u64))
        .with_next_check(
            "Hold a second gauge to the tank during a refill: if it stops where it should, the sensor \
             is off; if not, the switch.",
            Some(AIR_CAUTION),
        )
        .with_separation("Switch against sensor: a second gauge, or the sensor read with the tank empty.")
}

fn days(days: f64) -> Measured {
    Measured::exact((days * 10.0).round() / 10.0, Unit::One)
}
