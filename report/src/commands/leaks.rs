//! `seep leaks`: what each volume loses at rest.

mod at_times;
mod by_hand;
mod left_out;
mod parks;
mod why;

pub use why::WhyError;

use super::{and_elsewhere, brief, findings_of, head, judged, night};
use crate::analysis::air::Vessel;
use crate::analysis::at_rest::{VolumeAtRest, VolumeVerdict};
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::{CM3_MIN_PER_L_S, Closer, PlainRest, PooledLeak, TemperatureUse};
use crate::analysis::rest_model::WEATHER_K;
use crate::analysis::segment::LastMove;
use crate::conclusion::Topic;
use crate::digest::Digest;
use crate::findings::{air_verdict, measured, place_words, pooled_loss};
use crate::judgement::Judgement;
use crate::model::{Cell, Column, Measured, Report, Section, Table, Text, Unit};
use crate::recording::{Recording, RecordingError};
use crate::text;
use seep_common::physics::flow::equivalent_orifice_mm;

/// Rests listed one by one.
const MOST_RESTS: usize = 60;

/// The report.
///
/// # Errors
/// The log's errors.
pub fn report(recording: &Recording) -> Result<Report, RecordingError> {
    let (digest, judgement) = judged(recording)?;
    Ok(of(recording, &digest, &judgement))
}

/// The report, with the longest parked period of a place taken apart before it.
///
/// # Errors
/// [`WhyError`]: the log, or a place that did not rest.
pub fn why(recording: &Recording, place: &str) -> Result<Report, WhyError> {
    let (digest, judgement) = judged(recording)?;
    let section = why::section(recording, &digest, &judgement, place)?;
    let mut report = of(recording, &digest, &judgement);
    report.sections.insert(0, section);
    Ok(report)
}

fn of(recording: &Recording, digest: &Digest, judgement: &Judgement) -> Report {
    let findings = findings_of(judgement, &[Topic::Air]);
    let verdict = air_verdict(&findings, &judgement.at_rest, &judgement.leaks);
    let verdict = and_elsewhere(verdict, &findings, judgement);
    let mut report = head::judged_report(
        recording,
        digest,
        "leaks",
        "Air lost at rest",
        verdict,
        findings,
    );
    let mut section = summary(digest, judgement);
    if report.findings.is_empty() {
        let table = section.tables.first();
        report.brief = table.map(|t| brief::columns(t, &[0, 1, 2, 5, 6], &t.caption));
    }
    section.tables.push(figures(digest, judgement));
    section.tables.extend(at_times::table(judgement));
    report
        .sections
        .extend(night::section(recording, digest, judgement));
    report.sections.push(section);
    report.sections.push(parks::section(recording, judgement));
    let mut section = rests(recording, digest, judgement, None);
    section.tables.push(rest_figures(recording, judgement));
    report.sections.push(section);
    report.notes = notes(digest, judgement);
    report
}

/// One row per volume.
pub(super) fn summary(digest: &Digest, judgement: &Judgement) -> Section {
    let mut section = Section::new("leaks", "Air lost at rest");
    let mut table = Table::new(
        "leaks",
        "All parked periods together; “below” is a 95 % upper limit",
        vec![
            Column::text("place"),
            Column::number("as height", Unit::MmPerHour),
            Column::number("as pressure", Unit::KpaPerHour),
            Column::number("loss", Unit::AnrCm3PerMin),
            Column::number("smallest detectable", Unit::AnrCm3PerMin),
            Column::mixed("rests"),
            Column::mixed("length"),
        ],
    );
    for leak in &judgement.leaks {
        table.push(row(digest, judgement, leak));
    }
    if judgement.leaks.is_empty() {
        section.lead = Some(
            "No rest of twenty minutes or more was recorded with pressure: nothing can be said about leaks \
             (`seep hold` judges a hold of minutes)."
                .into(),
        );
    }
    section.tables.push(table);
    section
}

fn row(digest: &Digest, judgement: &Judgement, leak: &PooledLeak) -> Vec<Cell> {
    let flow = leak.loss_l_per_s.scaled(CM3_MIN_PER_L_S);
    let told = |e: &Estimate, unit: Unit| pooled_loss(leak, e, unit);
    let limit = judgement.at_rest.volume(&leak.place);
    let seen_from = match limit.and_then(|v| v.limit_l_per_s) {
        _ if leak.lower_bound => Cell::missing("no height: it can sink at steady pressure"),
        Some(l_per_s) => in_flow(
            digest,
            &leak.place,
            Measured::exact(two_digits(l_per_s * CM3_MIN_PER_L_S), Unit::AnrCm3PerMin),
        ),
        None => Cell::missing(no_limit(limit)),
    };
    vec![
        Cell::text(&place_words(&leak.place)),
        Cell::number_or(
            leak.mm_per_h.map(|m| told(&m, Unit::MmPerHour)),
            "no height",
        ),
        Cell::Number(told(&leak.kpa_per_h, Unit::KpaPerHour)),
        in_flow(digest, &leak.place, told(&flow, Unit::AnrCm3PerMin)),
        seen_from,
        Cell::count(leak.rests as u64),
        Cell::duration(leak.seconds),
    ]
}

/// Why no smallest detectable leak is told.
fn no_limit(volume: Option<&VolumeAtRest>) -> &'static str {
    match volume {
        Some(v) if v.verdict == VolumeVerdict::Fault => "a leak is named",
        Some(v) if v.place == "tank" => "refills would end the rests that show it",
        Some(_) => "too little at rest",
        None => "a leak is named",
    }
}

/// A figure that needs the volume.
fn in_flow(digest: &Digest, place: &str, m: Measured) -> Cell {
    if digest.vessel(place).is_some_and(Vessel::is_relative) {
        Cell::missing("no volume in the rig")
    } else {
        Cell::Number(m)
    }
}

/// The same losses as other people tell them.
fn figures(digest: &Digest, judgement: &Judgement) -> Table {
    let mut table = Table::new(
        "figures",
        "The same losses as half-life of the air, as the sonic conductance (ISO 6358) and as the \
         diameter of the ideal round hole that would lose as much",
        vec![
            Column::text("place"),
            Column::mixed("half-life"),
            Column::number("conductance", Unit::SonicConductance),
            Column::number("hole", Unit::Micrometre),
        ],
    );
    for leak in &judgement.leaks {
        let told = pooled_loss(leak, &leak.equivalent_conductance, Unit::SonicConductance);
        table.push(vec![
            Cell::text(&place_words(&leak.place)),
            decay_time(&leak.per_s, std::f64::consts::LN_2),
            in_flow(digest, &leak.place, told),
            in_flow(digest, &leak.place, hole(&told)),
        ]);
    }
    table
}

/// The hole behind a conductance, µm.
fn hole(conductance: &Measured) -> Measured {
    let um = |c: f64| 1000.0 * equivalent_orifice_mm(c.max(0.0));
    Measured {
        value: um(conductance.value),
        low: conductance.low.map(um),
        high: conductance.high.map(um),
        unit: Unit::Micrometre,
        ..*conductance
    }
}

/// A limit is a rough figure: two significant digits.
pub(super) fn two_digits(value: f64) -> f64 {
    if value <= 0.0 || !value.is_finite() {
        return value;
    }
    let unit = 10_f64.powf(value.log10().floor() - 1.0);
    (value / unit).ceil() * unit
}

/// One row per rest, of some places or of all.
pub(super) fn rests(
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
    places: Option<&[String]>,
) -> Section {
    let mut section = Section::new("rests", "Rest by rest");
    let mut table = Table::new(
        "rests",
        "One exponential through the air of each rest alone, nothing taken off",
        vec![
            Column::text("place"),
            Column::text("from"),
            Column::mixed("length"),
            Column::number("loss", Unit::AnrCm3PerMin),
            Column::mixed("half-life"),
            Column::text("remarks"),
        ],
    );
    let mut fits = newest_first(judgement);
    fits.retain(|f| places.is_none_or(|p| p.contains(&f.place)));
    for fit in fits.iter().take(MOST_RESTS) {
        table.push(rest_row(recording, digest, fit));
    }
    if fits.len() > MOST_RESTS {
        section.notes.push(
            format!(
                "{} earlier rests are not listed; narrow the span with --to.",
                fits.len() - MOST_RESTS
            )
            .into(),
        );
    }
    section.tables.push(table);
    section.tables.push(as_pressure(recording, &fits));
    section
}

/// The same rests told by their pressure: a table of its own, so that each fits
/// a narrow page.
fn as_pressure(recording: &Recording, fits: &[&PlainRest]) -> Table {
    let mut table = Table::new(
        "rests-pressure",
        "The same rests as pressure",
        vec![
            Column::text("place"),
            Column::text("from"),
            Column::number("fall", Unit::KpaPerHour),
            Column::mixed("plain time constant"),
        ],
    );
    for fit in fits.iter().take(MOST_RESTS) {
        table.push(vec![
            Cell::text(&place_words(&fit.place)),
            head::wall_cell(recording, (fit.t_s.0 * 1000.0) as i64),
            Cell::Number(measured(&fit.kpa_per_h, Unit::KpaPerHour)),
            decay_time(&fit.per_s, 1.0),
        ]);
    }
    table
}

fn newest_first(judgement: &Judgement) -> Vec<&PlainRest> {
    let mut fits: Vec<&PlainRest> = judgement.fits.iter().collect();
    fits.sort_by(|a, b| b.t_s.0.total_cmp(&a.t_s.0).then(a.place.cmp(&b.place)));
    fits
}

/// How far the readings of each rest hang together.
fn rest_figures(recording: &Recording, judgement: &Judgement) -> Table {
    let mut table = Table::new(
        "rest-figures",
        "Lag-1 autocorrelation of the residuals of each exponential (0: independent)",
        vec![
            Column::text("place"),
            Column::text("from"),
            Column::mixed("means"),
            Column::number("autocorrelation", Unit::One),
        ],
    );
    for fit in newest_first(judgement).into_iter().take(MOST_RESTS) {
        table.push(vec![
            Cell::text(&place_words(&fit.place)),
            head::wall_cell(recording, (fit.t_s.0 * 1000.0) as i64),
            Cell::count(fit.readings.0 as u64),
            Cell::Number(Measured::exact(
                (fit.readings.1 * 100.0).round() / 100.0,
                Unit::One,
            )),
        ]);
    }
    table
}

fn rest_row(recording: &Recording, digest: &Digest, fit: &PlainRest) -> Vec<Cell> {
    let flow = measured(
        &fit.loss_l_per_s.scaled(CM3_MIN_PER_L_S),
        Unit::AnrCm3PerMin,
    );
    vec![
        Cell::text(&place_words(&fit.place)),
        head::wall_cell(recording, (fit.t_s.0 * 1000.0) as i64),
        Cell::duration(fit.t_s.1 - fit.t_s.0),
        in_flow(digest, &fit.place, flow),
        decay_time(&fit.per_s, std::f64::consts::LN_2),
        remarks(fit).into(),
    ]
}

/// Time of a decay, `factor`/k: 1 for the time constant, ln 2
/// for the half-life; the shortest that the data allow where k may be nil.
fn decay_time(per_s: &Estimate, factor: f64) -> Cell {
    let (low, high) = per_s.interval_95();
    let seconds = |k: f64| factor / k;
    if low > 0.0 {
        Cell::Number(Measured::estimate(
            seconds(per_s.value),
            seconds(high),
            seconds(low),
            Unit::Seconds,
        ))
    } else if high > 0.0 {
        Cell::Number(Measured::above(seconds(high), Unit::Seconds))
    } else {
        Cell::missing("it gained air")
    }
}

/// A swing of temperature from here on is told with a rest, K.
const WORTH_A_WORD_K: f64 = 2.0;

fn remarks(fit: &PlainRest) -> Text {
    let mut words: Vec<Text> = Vec::new();
    match fit.after {
        LastMove::Fill => words.push("after a fill".into()),
        LastMove::Dump => words.push("after a dump".into()),
        LastMove::Unknown => {}
    }
    if fit.bridged {
        words.push("bridges a power-off gap".into());
    }
    if fit.temperature == TemperatureUse::Assumed {
        words.push("no temperature".into());
    }
    if fit.lower_bound {
        words.push("no height: lower bound".into());
    }
    match fit.bend.closer {
        Closer::Seep => words.push("bends like a seep (laminar)".into()),
        Closer::Hole => words.push("bends like a hole".into()),
        Closer::Neither => {}
    }
    if fit.temperature == TemperatureUse::Recorded && fit.kelvin_range >= WORTH_A_WORD_K {
        let range = (fit.kelvin_range * 10.0).round() / 10.0;
        let swing = Measured::exact(range, Unit::KelvinDifference);
        words.push(text!["temperature swung ", swing]);
    }
    Text::joined(words, ", ")
}

fn notes(digest: &Digest, judgement: &Judgement) -> Vec<Text> {
    let mut out = vec![
        text![
            "Losses are of amount (pressure × volume / temperature), so a cold night or a changed load is \
             not taken for a leak. ",
            head::reference_air()
        ],
        "What decides is one model of all parked periods: heat after drives, lag of the thermometer, \
         sun, creep, settling, weather, counts and the rig's volumes are in its intervals. \
         `seep leaks --why PLACE` takes one period apart."
            .into(),
        "Rest by rest stands the plain exponential decay of the amount, n = n₀·exp(−t/τ), nothing taken \
         off (absolute pressure, where volume and temperature are not known). Its interval covers the \
         scatter of the readings with their autocorrelation, not what heat and weather do."
            .into(),
    ];
    if judgement
        .fits
        .iter()
        .any(|f| f.temperature == TemperatureUse::Assumed)
    {
        out.push(text![
            "Where no temperature is recorded the intervals are widened for a temperature that wanders by ",
            Measured::exact(WEATHER_K, Unit::KelvinDifference),
            " in eight hours (common practice, no source): a slow cooling looks like a leak."
        ]);
    }
    let unsized_places: Vec<String> = judgement
        .leaks
        .iter()
        .filter(|l| digest.vessel(&l.place).is_some_and(Vessel::is_relative))
        .map(|l| place_words(&l.place))
        .collect();
    if !unsized_places.is_empty() {
        out.push(
            format!(
                "The rig gives no volume for {}: the loss there is told as pressure, not as air.",
                unsized_places.join(", ")
            )
            .into(),
        );
    }
    out.extend(left_out::note(&digest.reduced).map(Text::from));
    if !digest.barometer_recorded {
        out.push(text![
            "No barometer is recorded: ",
            Measured::exact((digest.ambient_kpa_abs * 10.0).round() / 10.0, Unit::KpaAbs),
            " outside is assumed and the weather's swing is in the intervals."
        ]);
    }
    out.extend(by_hand::note(&judgement.at_rest.by_hand).map(Text::from));
    if judgement.unfitted_rests > 0 {
        out.push(
            format!(
                "{} rests were too short or too sparse to fit.",
                judgement.unfitted_rests
            )
            .into(),
        );
    }
    out
}
