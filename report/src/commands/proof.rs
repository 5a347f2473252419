//! `seep proof`: a plan of limits, judged.

mod test_rig;

use super::{head, judged, leaks, moves, timeline};
use crate::findings::place_words;
use crate::model::{
    Cell, Column, Finding, FindingKind, Measured, Report, Section, Severity, Table, Unit, Verdict,
};
use crate::plain_units::PlainUnits;
use crate::proof::{self, Judged, Outcome, Plan, ahead, cycles_left, test_rigs};
use crate::recording::{Recording, RecordingError};
use crate::render::number::phrase;
use seep_common::store::{inspect, sha256_hex};

/// Judge a recording by a plan; `text` is the plan's file as it stands.
///
/// # Errors
/// The log's errors.
pub fn report(
    recording: &Recording,
    plan: &Plan,
    text: &str,
    units: PlainUnits,
) -> Result<Report, RecordingError> {
    let (digest, judgement) = judged(recording, units)?;
    let seen = inspect(
        recording.path(),
        super::verify::longest_silence_ms(recording),
    )?;
    let limits = proof::judge(
        plan,
        recording,
        &digest,
        &judgement,
        &seen.unexplained_holes,
    );
    let verdict = verdict(plan, &limits, units);
    let findings = findings(&limits, units);
    let mut report = head::judged_report(recording, &digest, "proof", "Proof", verdict, findings);
    report.sections.push(limits_section(plan, text, &limits));
    let rigs = test_rigs(plan, recording, &digest, &judgement);
    report.sections.extend(test_rig::section(&rigs));
    report.sections.push(forecast(plan, &digest, &judgement));
    report.sections.push(leaks::summary(&digest, &judgement));
    report
        .sections
        .push(moves::short_summary(recording, &digest, &judgement));
    report.sections.push(timeline::section(recording, &digest));
    report.signatures.clone_from(&plan.signatures);
    report.notes = notes(units);
    Ok(report)
}

fn verdict(plan: &Plan, limits: &[Judged], units: PlainUnits) -> Verdict {
    let of = |wanted: fn(&Outcome) -> bool| -> Vec<&Judged> {
        limits.iter().filter(|l| wanted(&l.outcome)).collect()
    };
    let failed = of(|o| *o == Outcome::Fail);
    let open = of(|o| matches!(o, Outcome::Open(_)));
    let all = limits.len();
    if let Some(first) = failed.first() {
        return Verdict::new(
            Severity::Act,
            0.95,
            &format!(
                "Not passed: {} of {all} limits of “{}” {} broken, first {}.",
                failed.len(),
                plan.name,
                if failed.len() == 1 { "is" } else { "are" },
                in_words(first, units)
            ),
        );
    }
    if let Some(first) = open.first() {
        return Verdict::unknown(&format!(
            "Not enough evidence: no limit of “{}” is broken, but {} of {all} cannot be judged yet, first {}.",
            plan.name,
            open.len(),
            in_words(first, units)
        ));
    }
    Verdict::new(
        Severity::Fine,
        0.95,
        &format!("Passed: all {all} limits of “{}” are met.", plan.name),
    )
}

/// `rear left, fall of height over 72 h: 14 ± 3 mm where 10 mm are allowed`.
fn in_words(limit: &Judged, units: PlainUnits) -> String {
    let measured = limit
        .measured
        .map_or_else(|| "not measured".into(), |m| phrase(&m, units));
    let why = match &limit.outcome {
        Outcome::Open(why) => format!(" ({why})"),
        Outcome::Pass | Outcome::Fail => String::new(),
    };
    format!(
        "{}, {}: {measured}, limit {}{why}",
        place_words(&limit.place),
        limit.what,
        phrase(&limit.limit, units)
    )
}

/// Broken and open limits as findings, broken ones first.
fn findings(limits: &[Judged], units: PlainUnits) -> Vec<Finding> {
    let mut out: Vec<Finding> = limits
        .iter()
        .filter_map(|l| {
            let (kind, severity, probability, check) = match &l.outcome {
                Outcome::Pass => return None,
                Outcome::Fail => (
                    FindingKind::ProofFailed,
                    Severity::Act,
                    0.95,
                    "`seep diagnose` on the same log ranks what can be behind it; repair, then run the plan again.",
                ),
                Outcome::Open(_) => (
                    FindingKind::ProofOpen,
                    Severity::Unknown,
                    f64::NAN,
                    "Record what is missing and run the plan again on the longer log.",
                ),
            };
            let sentence = capital(&format!("{}.", in_words(l, units)));
            let mut f = Finding::new(kind, &l.place, severity, probability, &sentence)
                .with_evidence("limit", l.limit);
            if let Some(m) = l.measured {
                f = f.with_evidence("measured", m);
            }
            if !l.behind.is_empty() {
                f = f.with_evidence("behind it", Cell::text(&l.behind));
            }
            Some(f.with_next_check(check, None))
        })
        .collect();
    out.sort_by_key(|f| std::cmp::Reverse(f.severity));
    // The same check stands once, with the first finding that asks for it.
    let mut said: Vec<FindingKind> = Vec::new();
    for f in &mut out {
        if said.contains(&f.kind) {
            f.next_check = None;
        }
        said.push(f.kind);
    }
    out
}

fn capital(words: &str) -> String {
    crate::render::capital_words(words)
}

fn limits_section(plan: &Plan, text: &str, limits: &[Judged]) -> Section {
    let mut section = Section::new("limits", "Limits");
    let columns = vec![
        Column::text("place"),
        Column::text("what"),
        Column::text("verdict"),
        Column::mixed("measured"),
        Column::mixed("limit"),
        Column::text("behind it"),
    ];
    let mut table = Table::new("limits", &format!("Limits of “{}”", plan.name), columns);
    for l in limits {
        table.push(vec![
            Cell::text(&place_words(&l.place)),
            Cell::text(&l.what),
            Cell::text(match l.outcome {
                Outcome::Pass => "pass",
                Outcome::Fail => "FAIL",
                Outcome::Open(_) => "not enough evidence",
            }),
            Cell::number_or(l.measured, "nothing measured"),
            Cell::Number(l.limit),
            Cell::text(&l.behind),
        ]);
    }
    section.tables.push(table);
    section
        .notes
        .push(format!("Plan file SHA-256: {}", sha256_hex(text)));
    section
}

fn forecast(
    plan: &Plan,
    digest: &crate::digest::Digest,
    judgement: &crate::judgement::Judgement,
) -> Section {
    let hours = plan.forecast_h();
    let mut section = Section::new("forecast", "Forecast");
    let columns = vec![
        Column::text("place"),
        Column::number("height now", Unit::Mm),
        Column::number("height then", Unit::Mm),
        Column::number("pressure now", Unit::KpaGauge),
        Column::number("pressure then", Unit::KpaGauge),
    ];
    let caption = format!("Parked as it stood last, {hours} h later, at the losses measured");
    let mut table = Table::new("forecast", &caption, columns);
    for a in ahead(digest, judgement, hours) {
        table.push(vec![
            Cell::text(&place_words(&a.place)),
            Cell::number_or(
                a.mm_now.map(|mm| Measured::exact(mm.round(), Unit::Mm)),
                "no height",
            ),
            Cell::number_or(a.mm_then, "no height"),
            Cell::Number(Measured::exact(a.kpa_now.round(), Unit::KpaGauge)),
            Cell::Number(match a.kpa_then.kind {
                crate::model::MeasuredKind::Exact => {
                    Measured::exact(a.kpa_then.value.round(), Unit::KpaGauge)
                }
                _ => a.kpa_then,
            }),
        ]);
    }
    section.tables.push(table);
    let mut table = Table::new(
        "cycles-left",
        "What the tank still gives without the compressor",
        vec![Column::text("quantity"), Column::mixed("value")],
    );
    table.push(vec![
        "rounds of one fill of every corner".into(),
        match cycles_left(digest, judgement) {
            Ok(rounds) => Cell::Number(rounds),
            Err(why) => Cell::missing(&why),
        },
    ]);
    section.tables.push(table);
    section
}

fn notes(units: PlainUnits) -> Vec<String> {
    // A kelvin is 1/293 of the usual temperature of 293 K.
    let per_degree = 0.34 / units.shown(Unit::KelvinDifference).factor;
    let degree = units.shown(Unit::KelvinDifference).symbol;
    vec![
        head::words_of_tables(units),
        format!(
            "A limit on holding is met only when the whole 95 % interval of the change lies within it, and \
         only after a rest of at least a quarter of its hours. The change is that of air lost: a colder \
         night lowers a tight car too, by about {per_degree:.2} % of the air's volume per {degree}."
        ),
        "A hold carries the measured rate forward; the height falls at that rate or slower.".into(),
    ]
}
