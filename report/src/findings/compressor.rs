//! Findings about compressors.

use super::explanations::ranked;
use super::{AIR_CAUTION, measured, place_words};
use crate::analysis::diagnose::{ThermalCutOuts, Wear};
use crate::analysis::duty::WindowDuty;
use crate::conclusion::Conclusion;
use crate::model::{Cell, Finding, Measured, Severity, Unit};
use crate::render::capital_words;
use seep_common::rig::Compressor;

/// A compressor that delivers less than it did.
#[must_use]
pub fn wear_finding(wear: &Wear) -> Finding {
    let t = &wear.trend;
    let words = place_words(&t.place);
    let sentence = format!(
        "{} delivers {:.0} % less at the same pressure than at the start of this log{}{}: \
         wear, or a blocked intake filter.",
        capital_words(&words),
        -t.change_percent().map_or(0.0, |c| c.value),
        match t.supply_v {
            Some(_) => ", and the supply voltage does not explain it",
            None => " (no supply voltage is recorded, so low volts are not ruled out)",
        },
        if t.barometer {
            ""
        } else {
            " (no barometer is recorded: a climb of 1,500 m takes 17 % by itself)"
        }
    );
    let mut f = Finding::new(
        &Conclusion::CompressorWear {
            place: t.place.clone(),
        },
        Severity::Act,
        wear.probability,
        &sentence,
    )
    .with_evidence(
        "delivery at mean pressure",
        measured(&t.anr_l_per_min, Unit::AnrLitresPerMin),
    )
    .with_evidence("runs behind it", Cell::count(t.runs as u64));
    if let Some(change) = t.change_percent() {
        f = f.with_evidence("change over the log", measured(&change, Unit::Percent));
    }
    if let Some((first, last)) = t.supply_v {
        f = f
            .with_evidence(
                "supply voltage in the first third",
                Measured::exact(first, Unit::Volt),
            )
            .with_evidence("and in the last third", Measured::exact(last, Unit::Volt));
    }
    // The readings look the same for both: half each, and the check decides.
    let place = || t.place.clone();
    let filter = Conclusion::IntakeFilterBlocked { place: place() };
    let even = vec![
        (filter, 0.5),
        (Conclusion::PumpWorn { place: place() }, 0.5),
    ];
    let f = f.with_next_check(
        "Clean or change the intake filter and time one pump-up from cut-in to cut-out. Still slow \
         with good volts at the motor: rings or valves of the pump.",
        Some(AIR_CAUTION),
    );
    ranked(f, even)
}

/// A compressor that its thermal switch stops.
#[must_use]
pub fn thermal_finding(t: &ThermalCutOuts) -> Finding {
    let sentence = format!(
        "{} stopped {} of {} times before the tank was full, as its thermal switch would do.",
        capital_words(&place_words(&t.place)),
        t.early,
        t.runs
    );
    let mut f = Finding::new(
        &Conclusion::ThermalCutOut {
            place: t.place.clone(),
        },
        Severity::Act,
        t.probability,
        &sentence,
    )
    .with_evidence(
        "stops at, when it goes to the end",
        gauge_kpa(t.cut_out_kpa_gauge),
    )
    .with_evidence("stopped early at", gauge_kpa(t.stopped_at_kpa_gauge));
    if t.ended_otherwise > 0 {
        f = f.with_evidence(
            "runs left out: the ignition, a fill or the end of the recording may have ended them, or the tank read the same throughout",
            Cell::count(t.ended_otherwise as u64),
        );
    }
    if let Some(pause_s) = t.pause_s {
        f = f.with_evidence("pause after an early stop", Cell::duration(pause_s));
    }
    f.with_next_check(
        "Feel whether air reaches the motor: clean its surroundings and intake, and let it cool. \
         Stops with a cool motor: the supply (fuse, relay, voltage at the motor). A hot compressor \
         burns skin.",
        Some(AIR_CAUTION),
    )
    .with_separation("Heat against supply: volts at the motor at the moment it stops.")
}

fn gauge_kpa(kpa: f64) -> Measured {
    Measured::exact(kpa.round(), Unit::KpaGauge)
}

/// A duty above the compressor's rating: what is surely exceeded, so time in which the
/// state of the compressor is not known counts as rest.
#[must_use]
pub fn duty_findings(worst: &[(Compressor, WindowDuty)]) -> Vec<Finding> {
    worst
        .iter()
        .filter_map(|(compressor, window)| {
            let rated = compressor.rated_duty_percent?;
            let percent = window.least_percent();
            (percent > rated * 1.05).then(|| {
                let at_least = if window.coverage() < 1.0 { "at least " } else { "" };
                let sentence = format!(
                    "{} ran {at_least}{percent:.0} % of its worst {:.0} min, above the {rated:.0} % it is rated for.",
                    capital_words(&place_words(&compressor.name)),
                    compressor.rated_window_min,
                );
                Finding::new(
                    &Conclusion::DutyTooHigh { place: compressor.name.clone() },
                    Severity::Watch,
                    0.99,
                    &sentence,
                )
                .with_evidence("worst window", Measured::exact(percent, Unit::Percent))
                .with_evidence("rated", Measured::exact(rated, Unit::Percent))
                .with_next_check(
                    "See `seep leaks` for what makes it run; let it cool between runs until then.",
                    None,
                )
            })
        })
        .collect()
}
