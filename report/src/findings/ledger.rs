//! Findings about air that the ledger cannot explain.

use super::{AIR_CAUTION, measured, place_words};
use crate::analysis::ledger::VolumeEntry;
use crate::analysis::stats::normal_two_sided_p;
use crate::conclusion::Conclusion;
use crate::model::{Finding, Measured, Severity, Unit};
use crate::text;

/// Returns a finding for each of these volumes, whose remainder differs from zero.
#[must_use]
pub fn remainder_findings(unbalanced: &[&VolumeEntry]) -> Vec<Finding> {
    unbalanced.iter().map(|v| remainder(v)).collect()
}

fn remainder(v: &VolumeEntry) -> Finding {
    let off = &v.unexplained;
    let (more, amount) = if off.value > 0.0 {
        ("more", *off)
    } else {
        ("less", off.scaled(-1.0))
    };
    let (low, high) = amount.interval_95();
    let sentence = text![
        "The air ledger of ",
        place_words(&v.place),
        " does not balance: it holds ",
        Measured::estimate(amount.value, low, high, Unit::AnrLitres),
        format!(" {more} than fills, dumps, runs and leaks explain.")
    ];
    Finding::new(
        &Conclusion::UnexplainedAir {
            place: v.place.clone(),
        },
        Severity::Watch,
        1.0 - normal_two_sided_p(off.value / off.se),
        &sentence,
    )
    .with_evidence("change", measured(&v.change, Unit::AnrLitres))
    .with_evidence("came", measured(&v.came, Unit::AnrLitres))
    .with_evidence("went by valves", measured(&v.went, Unit::AnrLitres))
    .with_evidence("leaked", measured(&v.leaked, Unit::AnrLitres))
    .with_evidence("unexplained", measured(off, Unit::AnrLitres))
    .with_next_check(
        "Usual causes: a wrong volume in the rig, a sensor that drifts, a valve or a run that \
         is not recorded, a leak that is open only now and then. Check the volume first: with the \
         compressor off, fill one corner from the tank, wait five minutes, and compare the air that \
         left the tank with the air that came (pressure difference times volume).",
        Some(AIR_CAUTION),
    )
}
