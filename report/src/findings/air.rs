//! Findings about air that moves on its own.

use super::{AIR_CAUTION, loss, measured, place_words, pooled_loss};
use crate::analysis::at_rest::{AtRest, NIGHT_H, SeenLaw, VolumeAtRest};
use crate::analysis::diagnose::RankedPattern;
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::{CM3_MIN_PER_L_S, Forecast, PooledLeak};
use crate::analysis::rest_model::Thermometer;
use crate::conclusion::Conclusion;
use crate::model::{Cell, Evidence, Finding, Measured, Severity, Text, Unit};
use crate::text;

/// Hours until a limit below which a leak asks for action.
const ACT_BELOW_H: f64 = 48.0;

/// One finding per pattern, most urgent first.
#[must_use]
pub fn air_findings(
    patterns: &[RankedPattern],
    leaks: &[PooledLeak],
    forecasts: &[(String, Forecast)],
    at_rest: &AtRest,
) -> Vec<Finding> {
    patterns
        .iter()
        .filter_map(|p| finding(p, leaks, forecasts, at_rest))
        .collect()
}

fn finding(
    ranked: &RankedPattern,
    leaks: &[PooledLeak],
    forecasts: &[(String, Forecast)],
    at_rest: &AtRest,
) -> Option<Finding> {
    let leak_of = |place: &str| leaks.iter().find(|l| l.place == place);
    let flow = measured(
        &ranked.flow_l_per_s.scaled(CM3_MIN_PER_L_S),
        Unit::AnrCm3PerMin,
    );
    let mut finding = match &ranked.pattern {
        Conclusion::CornerLeak { place } => corner(ranked, leak_of(place)?, forecasts),
        Conclusion::TankLeak => tank(ranked, leak_of("tank")?, forecasts),
        Conclusion::FillValvePassing { place } => passing(ranked, place, leak_of(place)),
        Conclusion::CrossLeak { from, to } => cross(ranked, from, to),
        // Nothing to say of a tight car, and no other conclusion is a pattern.
        _ => return None,
    };
    let place = match &ranked.pattern {
        Conclusion::CornerLeak { place } => Some(place.as_str()),
        Conclusion::TankLeak => Some("tank"),
        _ => None,
    };
    if let Some(volume) = place.and_then(|p| at_rest.volume(p)) {
        finding.evidence.extend(at_rest_evidence(volume));
    }
    let height_first = finding.evidence.len().min(1);
    finding.evidence.insert(
        height_first,
        Evidence {
            label: "air moved while parked".into(),
            value: Cell::Number(flow),
            remark: None,
        },
    );
    let mut explained = vec![(ranked.pattern.clone(), ranked.probability)];
    explained.extend(ranked.rivals.iter().cloned());
    Some(super::explanations::ranked(finding, explained))
}

fn corner(ranked: &RankedPattern, leak: &PooledLeak, forecasts: &[(String, Forecast)]) -> Finding {
    let place = leak.place.as_str();
    let words = place_words(place);
    let forecast = forecasts.iter().find(|f| f.0 == place).map(|f| f.1);
    let pace = match &leak.mm_per_h {
        Some(mm) if mm.value > 0.0 => in_ten_hours(mm, Unit::Mm),
        _ => in_ten_hours(&leak.kpa_per_h, Unit::KpaDifference),
    };
    let bound = if leak.lower_bound {
        " at least (no height channel: a corner off its stops loses height before pressure)"
    } else {
        ""
    };
    let sentence = text![
        "The ",
        &words,
        " corner loses air at rest, ",
        pace,
        bound,
        ", while the tank does not gain it: look at its bag, fitting, line or dump valve."
    ];
    let mut f = Finding::new(
        &ranked.pattern,
        severity(forecast),
        ranked.probability,
        &sentence,
    );
    if let Some(mm) = &leak.mm_per_h {
        f = f.with_evidence(
            "fall of height at rest",
            pooled_loss(leak, mm, Unit::MmPerHour),
        );
    }
    f = with_forecast(f, forecast);
    f = f
        .with_evidence(
            "as a fall of pressure at constant volume",
            pooled_loss(leak, &leak.kpa_per_h, Unit::KpaPerHour),
        )
        .with_evidence("rests used", Cell::count(leak.rests as u64))
        .with_evidence("length of these rests", Cell::duration(leak.seconds));
    if forecast.is_some_and(|f| f.is_passed()) {
        f.sentence.push(" It already stands below its limit.");
    }
    f.with_next_check(
        &format!(
            "Park it raised, soap the {words} bag, its fitting and both ends of its line. No bubbles: \
             isolate the line at the manifold overnight. The loss stops: the dump valve or manifold \
             side leaks; it goes on: line, fitting or bag."
        ),
        Some(AIR_CAUTION),
    )
}

/// `58 ± 8 mm within ten hours`.
fn in_ten_hours(per_h: &Estimate, unit: Unit) -> Text {
    text![
        measured(&per_h.scaled(super::NIGHT_H), unit),
        " within ten hours"
    ]
}

fn tank(ranked: &RankedPattern, leak: &PooledLeak, forecasts: &[(String, Forecast)]) -> Finding {
    let forecast = forecasts.iter().find(|f| f.0 == "tank").map(|f| f.1);
    let sentence = text![
        "The tank loses air at rest, ",
        in_ten_hours(&leak.kpa_per_h, Unit::KpaDifference),
        ", and no corner gains it: look at check valve, drain, tank fittings and supply line."
    ];
    let f = Finding::new(
        &ranked.pattern,
        Severity::Watch,
        ranked.probability,
        &sentence,
    )
    .with_evidence(
        "fall of pressure at rest",
        loss(&leak.kpa_per_h, Unit::KpaPerHour),
    )
    .with_evidence("rests used", Cell::count(leak.rests as u64))
    .with_evidence("length of these rests", Cell::duration(leak.seconds));
    with_forecast(f, forecast)
        .with_next_check(
            "Compare the loss just after a compressor run with the loss hours later: a check valve \
             leaks most when its hose is freshly empty. Then soap the drain and every tank fitting.",
            Some(AIR_CAUTION),
        )
}

fn passing(ranked: &RankedPattern, place: &str, corner: Option<&PooledLeak>) -> Finding {
    let words = place_words(place);
    let sentence = format!(
        "The {words} corner gains at rest what the tank loses: its fill valve does not close."
    );
    let mut f = Finding::new(
        &ranked.pattern,
        Severity::Act,
        ranked.probability,
        &sentence,
    );
    if let Some(corner) = corner {
        if let Some(mm) = &corner.mm_per_h {
            f = f.with_evidence(
                "rise of height at rest",
                loss(&mm.scaled(-1.0), Unit::MmPerHour),
            );
        }
        f = f
            .with_evidence(
                "as a fall of pressure at constant volume",
                loss(&corner.kpa_per_h.scaled(-1.0), Unit::KpaPerHour),
            )
            .with_evidence("rests used", Cell::count(corner.rests as u64));
    }
    f.with_next_check(
        &format!(
            "Close the tank's valve (or empty the tank) overnight and watch the {words} corner: \
             if it stops rising, clean or change that fill valve."
        ),
        Some(AIR_CAUTION),
    )
}

fn cross(ranked: &RankedPattern, from: &str, to: &str) -> Finding {
    let sentence = format!(
        "Air passes from {} to {} at rest and their sum stays: they leak into each other in the \
         manifold or in a shared axle circuit.",
        place_words(from),
        place_words(to)
    );
    Finding::new(
        &ranked.pattern,
        Severity::Watch,
        ranked.probability,
        &sentence,
    )
    .with_next_check(
        "Isolate one of the two lines at the manifold overnight: if both stand still, the manifold \
         joins them.",
        Some(AIR_CAUTION),
    )
}

/// What the model of a car at rest knows besides the size of a leak.
fn at_rest_evidence(volume: &VolumeAtRest) -> Vec<Evidence> {
    let line = |label: &str, value: Cell| Evidence {
        label: label.into(),
        value,
        remark: None,
    };
    let mut out = Vec::new();
    if let Some(mm_per_h) = &volume.loss.mm_per_h {
        let by_leak = mm_per_h.scaled(NIGHT_H);
        out.push(line(
            "lower after 12 h by the leak",
            Cell::Number(measured(&by_leak, Unit::Mm)),
        ));
        if let Some(cold_mm) = volume.night_cooling_mm {
            let with_cold = Estimate {
                value: by_leak.value + cold_mm,
                ..by_leak
            };
            out.push(line(
                "the same with a night's cold",
                Cell::Number(measured(&with_cold, Unit::Mm)),
            ));
        }
    }
    let (show, all) = volume.proving;
    out.push(line(
        "parked periods that show it alone",
        Cell::text(&format!("{show} of {all}")),
    ));
    out.push(line("law of the leak", Cell::text(law_words(volume.law))));
    let thermometer = thermometer_words(&volume.thermometer);
    out.push(line("thermometer", Cell::text(&thermometer)));
    if volume.by_hand {
        out.push(line(
            "readings",
            Cell::text("by hand, with their stated errors"),
        ));
    }
    out
}

fn law_words(law: SeenLaw) -> &'static str {
    match law {
        SeenLaw::Choked => "a hole, choked",
        SeenLaw::SubCritical => "a hole, below choking",
        SeenLaw::Laminar => "laminar: a thread, seal or porous wall",
        SeenLaw::CannotTell => "cannot tell hole from seep",
    }
}

/// Where the temperature of a volume comes from, in words.
pub(crate) fn thermometer_words(thermometer: &Thermometer) -> String {
    match thermometer {
        Thermometer::Own => "its own".into(),
        Thermometer::Far(name) => format!("that of {}", place_words(name)),
        Thermometer::None => "none: cooling is priced, not measured".into(),
    }
}

fn severity(forecast: Option<Forecast>) -> Severity {
    match forecast {
        Some(f) if f.hours < ACT_BELOW_H => Severity::Act,
        _ => Severity::Watch,
    }
}

fn with_forecast(f: Finding, forecast: Option<Forecast>) -> Finding {
    let Some(forecast) = forecast else { return f };
    if forecast.is_passed() {
        let what = if forecast.by_height {
            "height"
        } else {
            "pressure"
        };
        return f.with_evidence(
            "time left to its limit",
            Cell::text(&format!("none: its {what} is already below it")),
        );
    }
    let label = if forecast.by_height {
        "time left to its height limit"
    } else {
        "time left to its pressure limit"
    };
    let seconds = |hours: f64| 3600.0 * hours;
    f.with_evidence(
        label,
        Measured::estimate(
            seconds(forecast.hours),
            seconds(forecast.earliest_h),
            seconds(forecast.latest_h),
            Unit::Seconds,
        ),
    )
}
