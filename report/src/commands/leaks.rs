//! `seep leaks`: what each volume loses at rest.

use super::{findings_of, head, judged};
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::{CM3_MIN_PER_L_S, LeakFit, LeakLaw, TemperatureUse};
use crate::analysis::segment::LastMove;
use crate::digest::Digest;
use crate::findings::{loss, measured, place_words, verdict};
use crate::judgement::Judgement;
use crate::model::{Cell, Column, FindingKind, Measured, Report, Section, Table, Unit};
use crate::plain_units::PlainUnits;
use crate::recording::{Recording, RecordingError};
use crate::render::number::phrase;

/// Rests listed one by one.
const MOST_RESTS: usize = 60;

/// The report.
///
/// # Errors
/// The log's errors.
pub fn report(recording: &Recording, units: PlainUnits) -> Result<Report, RecordingError> {
    let (digest, judgement) = judged(recording, units)?;
    let findings = findings_of(
        &judgement,
        &[
            FindingKind::CornerLeak,
            FindingKind::TankLeak,
            FindingKind::FillValvePassing,
            FindingKind::CrossLeak,
        ],
    );
    let verdict = verdict(&findings, &judgement.leaks);
    let mut report = head::judged_report(
        recording,
        &digest,
        "leaks",
        "Air lost at rest",
        verdict,
        findings,
    );
    report.sections.push(summary(&digest, &judgement));
    report.sections.push(rests(recording, &judgement, None));
    report.notes = notes(&digest, &judgement);
    Ok(report)
}

/// One row per volume.
pub(super) fn summary(digest: &Digest, judgement: &Judgement) -> Section {
    let mut section = Section::new("leaks", "Air lost at rest");
    let mut table = Table::new(
        "leaks",
        "All rests together; a loss below its interval is told as an upper bound at 95 %",
        vec![
            Column::text("place"),
            Column::number("loss", Unit::AnrCm3PerMin),
            Column::number("as pressure", Unit::KpaPerHour),
            Column::number("as height", Unit::MmPerHour),
            Column::number("would be seen from", Unit::AnrCm3PerMin),
            Column::mixed("rests"),
            Column::mixed("length"),
        ],
    );
    for leak in &judgement.leaks {
        let flow = leak.loss_l_per_s.scaled(CM3_MIN_PER_L_S);
        let relative = digest
            .vessel(&leak.place)
            .is_some_and(crate::analysis::air::Vessel::is_relative);
        let in_flow = |m: Measured| {
            if relative {
                Cell::missing("no volume in the rig")
            } else {
                Cell::Number(m)
            }
        };
        table.push(vec![
            Cell::text(&place_words(&leak.place)),
            in_flow(loss(&flow, Unit::AnrCm3PerMin)),
            Cell::Number(loss(&leak.kpa_per_h, Unit::KpaPerHour)),
            Cell::number_or(
                leak.mm_per_h.map(|m| loss(&m, Unit::MmPerHour)),
                "no height",
            ),
            in_flow(Measured::exact(
                two_digits(flow.detection_limit()),
                Unit::AnrCm3PerMin,
            )),
            Cell::count(leak.rests as u64),
            Cell::duration(leak.seconds),
        ]);
    }
    if judgement.leaks.is_empty() {
        section.lead = Some(
            "No rest of five minutes or more was recorded with pressure: nothing can be said about leaks."
                .into(),
        );
    }
    section.tables.push(table);
    section
}

/// A limit is a rough figure: two significant digits.
fn two_digits(value: f64) -> f64 {
    if value <= 0.0 || !value.is_finite() {
        return value;
    }
    let unit = 10_f64.powf(value.log10().floor() - 1.0);
    (value / unit).ceil() * unit
}

/// One row per rest, of some places or of all.
pub(super) fn rests(
    recording: &Recording,
    judgement: &Judgement,
    places: Option<&[String]>,
) -> Section {
    let mut section = Section::new("rests", "Rest by rest");
    let mut table = Table::new(
        "rests",
        "Fits of single rests, in time order",
        vec![
            Column::text("place"),
            Column::text("from"),
            Column::mixed("length"),
            Column::number("loss", Unit::AnrCm3PerMin),
            Column::mixed("half-life"),
            Column::text("remarks"),
        ],
    );
    let mut fits: Vec<&LeakFit> = judgement
        .fits
        .iter()
        .filter(|f| places.is_none_or(|p| p.contains(&f.place)))
        .collect();
    fits.sort_by(|a, b| a.t_s.0.total_cmp(&b.t_s.0).then(a.place.cmp(&b.place)));
    for fit in fits.iter().take(MOST_RESTS) {
        table.push(vec![
            Cell::text(&place_words(&fit.place)),
            head::wall_cell(recording, (fit.t_s.0 * 1000.0) as i64),
            Cell::duration(fit.t_s.1 - fit.t_s.0),
            Cell::Number(measured(
                &fit.loss_l_per_s.scaled(CM3_MIN_PER_L_S),
                Unit::AnrCm3PerMin,
            )),
            half_life(&fit.per_s),
            Cell::text(&remarks(fit, judgement.units)),
        ]);
    }
    if fits.len() > MOST_RESTS {
        section.notes.push(format!(
            "{} more rests are in the JSON of the whole log by --from and --to.",
            fits.len() - MOST_RESTS
        ));
    }
    section.tables.push(table);
    section
}

/// Half-life of the air at this loss, or the shortest that the data allow.
fn half_life(per_s: &Estimate) -> Cell {
    let (low, high) = per_s.interval_95();
    let half_s = |k: f64| std::f64::consts::LN_2 / k;
    if low > 0.0 {
        Cell::Number(Measured::estimate(
            half_s(per_s.value),
            half_s(high),
            half_s(low),
            Unit::Seconds,
        ))
    } else if high > 0.0 {
        Cell::Number(Measured::above(half_s(high), Unit::Seconds))
    } else {
        Cell::missing("it gained air")
    }
}

/// A swing of temperature from here on is told with a rest, K.
const WORTH_A_WORD_K: f64 = 2.0;

fn remarks(fit: &LeakFit, units: PlainUnits) -> String {
    let mut words: Vec<String> = Vec::new();
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
    if fit.settling_s.is_some() {
        words.push("settling fitted".into());
    }
    if fit.law == LeakLaw::Laminar && !fit.law_undecided {
        words.push("seeps (laminar)".into());
    }
    if fit.temperature == TemperatureUse::Recorded && fit.kelvin_range >= WORTH_A_WORD_K {
        let range = (fit.kelvin_range * 10.0).round() / 10.0;
        let swing = Measured::exact(range, Unit::KelvinDifference);
        words.push(format!("temperature swung {}", phrase(&swing, units)));
    }
    words.join(", ")
}

fn notes(digest: &Digest, judgement: &Judgement) -> Vec<String> {
    let mut out = vec![
        "Losses are of amount (pressure × volume / temperature), so a cold night or a changed load is \
         not taken for a leak. cm³/min ANR: air at 20 °C and 100 kPa (ISO 8778)."
            .to_string(),
        "The straight-loss fit covers a corner off its stops, where the height falls and the pressure \
         stays; the half-life is that of an exponential decay of the same amounts."
            .to_string(),
    ];
    if !digest.barometer_recorded {
        out.push(format!(
            "No barometer is recorded: {} outside is assumed and the weather's swing is in the \
             intervals.",
            phrase(
                &Measured::exact((digest.ambient_kpa_abs * 10.0).round() / 10.0, Unit::KpaAbs),
                judgement.units
            )
        ));
    }
    if judgement.unfitted_rests > 0 {
        out.push(format!(
            "{} rests were too short or too sparse to fit.",
            judgement.unfitted_rests
        ));
    }
    out
}
