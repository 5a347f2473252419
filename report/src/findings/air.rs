//! Findings about air that moves on its own.

use super::{AIR_CAUTION, loss, measured, place_words};
use crate::analysis::diagnose::{AirPattern, RankedPattern};
use crate::analysis::leak::{CM3_MIN_PER_L_S, Forecast, PooledLeak};
use crate::model::{Cell, Evidence, Finding, FindingKind, Measured, Severity, Unit};

/// Hours until a limit below which a leak asks for action.
const ACT_BELOW_H: f64 = 48.0;

/// One finding per pattern, most urgent first.
#[must_use]
pub fn air_findings(
    patterns: &[RankedPattern],
    leaks: &[PooledLeak],
    forecasts: &[(String, Forecast)],
) -> Vec<Finding> {
    patterns
        .iter()
        .filter_map(|p| finding(p, leaks, forecasts))
        .collect()
}

fn finding(
    ranked: &RankedPattern,
    leaks: &[PooledLeak],
    forecasts: &[(String, Forecast)],
) -> Option<Finding> {
    let leak_of = |place: &str| leaks.iter().find(|l| l.place == place);
    let flow = measured(
        &ranked.flow_l_per_s.scaled(CM3_MIN_PER_L_S),
        Unit::AnrCm3PerMin,
    );
    let mut finding = match &ranked.pattern {
        AirPattern::Tight => return None,
        AirPattern::CornerLeak { place } => corner(ranked, place, leak_of(place)?, forecasts),
        AirPattern::TankLeak => tank(ranked, leak_of("tank")?, forecasts),
        AirPattern::FillValvePassing { place } => passing(ranked, place, leak_of(place)),
        AirPattern::CrossLeak { from, to } => cross(ranked, from, to),
    };
    finding.evidence.insert(
        0,
        Evidence {
            label: "air moved on its own".into(),
            value: Cell::Number(flow),
            remark: None,
        },
    );
    finding = finding.with_candidate(&pattern_words(&ranked.pattern), ranked.probability);
    for (rival, share) in &ranked.rivals {
        finding = finding.with_candidate(&pattern_words(rival), *share);
    }
    Some(finding)
}

/// A pattern in words.
#[must_use]
fn pattern_words(pattern: &AirPattern) -> String {
    match pattern {
        AirPattern::Tight => "nothing leaks".into(),
        AirPattern::CornerLeak { place } => format!("leak to outside at {}", place_words(place)),
        AirPattern::TankLeak => "leak to outside at the tank".into(),
        AirPattern::FillValvePassing { place } => {
            format!("fill valve passing at {}", place_words(place))
        }
        AirPattern::CrossLeak { from, to } => format!(
            "air passing from {} to {}",
            place_words(from),
            place_words(to)
        ),
    }
}

fn corner(
    ranked: &RankedPattern,
    place: &str,
    leak: &PooledLeak,
    forecasts: &[(String, Forecast)],
) -> Finding {
    let words = place_words(place);
    let forecast = forecasts.iter().find(|f| f.0 == place).map(|f| f.1);
    let pace = match &leak.mm_per_h {
        Some(mm) if mm.value > 0.0 => format!("about {} mm in ten hours", rounded(10.0 * mm.value)),
        _ => format!(
            "about {} kPa in ten hours",
            rounded(10.0 * leak.kpa_per_h.value)
        ),
    };
    let bound = if leak.lower_bound {
        " at least (no height channel: a corner off its stops loses height before pressure)"
    } else {
        ""
    };
    let sentence = format!(
        "The {words} corner loses air at rest, {pace}{bound}, while the tank does not gain it: \
         look at its bag, fitting, line or dump valve."
    );
    let mut f = Finding::new(
        FindingKind::CornerLeak,
        place,
        severity(forecast),
        ranked.probability,
        &sentence,
    );
    if let Some(mm) = &leak.mm_per_h {
        f = f.with_evidence("fall of height at rest", loss(mm, Unit::MmPerHour));
    }
    f = f
        .with_evidence(
            "the same at constant volume",
            loss(&leak.kpa_per_h, Unit::KpaPerHour),
        )
        .with_evidence("rests behind it", Cell::count(leak.rests as u64))
        .with_evidence("their total length", Cell::duration(leak.seconds));
    f = with_forecast(f, forecast);
    f.with_next_check(
        &format!(
            "Park it raised, soap the {words} bag, its fitting and both ends of its line. No bubbles: \
             isolate the line at the manifold overnight. The loss stops: the dump valve or manifold \
             side leaks; it goes on: line, fitting or bag."
        ),
        Some(AIR_CAUTION),
    )
    .with_separation(
        "Bag and line against dump valve: an overnight rest with the line isolated at the manifold.",
    )
}

fn tank(ranked: &RankedPattern, leak: &PooledLeak, forecasts: &[(String, Forecast)]) -> Finding {
    let forecast = forecasts.iter().find(|f| f.0 == "tank").map(|f| f.1);
    let sentence = format!(
        "The tank loses air at rest, about {} kPa in ten hours, and no corner gains it: \
         look at check valve, drain, tank fittings and supply line.",
        rounded(10.0 * leak.kpa_per_h.value)
    );
    let f = Finding::new(
        FindingKind::TankLeak,
        "tank",
        Severity::Watch,
        ranked.probability,
        &sentence,
    )
    .with_evidence(
        "fall of pressure at rest",
        loss(&leak.kpa_per_h, Unit::KpaPerHour),
    )
    .with_evidence("rests behind it", Cell::count(leak.rests as u64))
    .with_evidence("their total length", Cell::duration(leak.seconds));
    with_forecast(f, forecast)
        .with_next_check(
            "Compare the loss just after a compressor run with the loss hours later: a check valve \
             leaks most when its hose is freshly empty. Then soap the drain and every tank fitting.",
            Some(AIR_CAUTION),
        )
        .with_separation("Check valve against fittings: soap at the compressor hose with the tank full.")
}

fn passing(ranked: &RankedPattern, place: &str, corner: Option<&PooledLeak>) -> Finding {
    let words = place_words(place);
    let sentence = format!(
        "The {words} corner gains at rest what the tank loses: its fill valve does not close."
    );
    let mut f = Finding::new(
        FindingKind::FillValvePassing,
        place,
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
                "the same at constant volume",
                loss(&corner.kpa_per_h.scaled(-1.0), Unit::KpaPerHour),
            )
            .with_evidence("rests behind it", Cell::count(corner.rests as u64));
    }
    f.with_next_check(
        &format!(
            "Close the tank's valve (or empty the tank) overnight and watch the {words} corner: \
             if it stops rising, clean or change that fill valve."
        ),
        Some(AIR_CAUTION),
    )
    .with_separation(
        "Fill valve against a drifting pressure sensor: the height rises only with real air.",
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
        FindingKind::CrossLeak,
        from,
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

fn severity(forecast: Option<Forecast>) -> Severity {
    match forecast {
        Some(f) if f.hours < ACT_BELOW_H => Severity::Act,
        _ => Severity::Watch,
    }
}

fn with_forecast(f: Finding, forecast: Option<Forecast>) -> Finding {
    let Some(forecast) = forecast else { return f };
    let label = if forecast.by_height {
        "hours until its height limit, as it stood last"
    } else {
        "hours until its pressure limit, as it stood last"
    };
    f.with_evidence(
        label,
        Measured::estimate(
            forecast.hours,
            forecast.earliest_h,
            forecast.latest_h,
            Unit::One,
        ),
    )
}

/// Two significant digits, for a sentence.
pub(crate) fn rounded(value: f64) -> String {
    if value.abs() < 0.05 {
        return format!("{value:.2}");
    }
    let digits = (1.0 - value.abs().log10().floor()).max(0.0) as usize;
    format!("{value:.digits$}")
}
