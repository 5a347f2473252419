//! `seep proof`: a plan of limits, judged.

mod pictures;
mod test_rig;

use super::{head, judged, leaks, moves, timeline};
use crate::conclusion::{Conclusion, FindingKind};
use crate::findings::place_words;
use crate::judgement::Judgement;
use crate::model::{
    Cell, Column, Finding, Label, Measured, Report, Section, Severity, Table, Text, Unit, Verdict,
};
use crate::proof::{self, JudgedLimit, LimitPlan, Outcome, Reaches, ahead, lifts_left, test_rigs};
use crate::recording::{Recording, RecordingError};
use crate::text;
use seep_common::store::{inspect, sha256_hex};

/// Judge a recording by a plan; `text` is the plan's file as it stands.
///
/// # Errors
/// The log's errors.
pub fn report(
    recording: &Recording,
    plan: &LimitPlan,
    text: &str,
) -> Result<Report, RecordingError> {
    let (digest, judgement) = judged(recording)?;
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
    let besides = besides(&judgement);
    let verdict = verdict(plan, &limits, &besides);
    let mut findings = findings(&limits);
    findings.extend(besides);
    findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
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
    report.signatures = plan.signatures.iter().map(Label::from).collect();
    report.notes = notes();
    Ok(report)
}

/// What else the log shows: a car with a fault is not passed because no limit of the
/// plan asks for it.
fn besides(judgement: &Judgement) -> Vec<Finding> {
    let urgent = judgement.findings.iter();
    urgent
        .filter(|f| f.severity > Severity::Unknown)
        .cloned()
        .collect()
}

fn verdict(plan: &LimitPlan, limits: &[JudgedLimit], besides: &[Finding]) -> Verdict {
    let of = |wanted: fn(&Outcome) -> bool| -> Vec<&JudgedLimit> {
        limits.iter().filter(|l| wanted(&l.outcome)).collect()
    };
    let failed = of(|o| *o == Outcome::Fail);
    let open = of(|o| matches!(o, Outcome::Open(_)));
    let all = limits.len();
    if let Some(first) = failed.first() {
        return Verdict::new(
            Severity::Act,
            0.95,
            text![
                format!(
                    "Not passed: {} of {all} limits of “{}” {} broken, first ",
                    failed.len(),
                    plan.name,
                    if failed.len() == 1 { "is" } else { "are" },
                ),
                in_words(first),
                "."
            ],
        );
    }
    if let Some(first) = besides.first() {
        let others = match besides.len() {
            1 => String::new(),
            n => format!(" {} more findings follow.", n - 1),
        };
        return Verdict {
            severity: first.severity,
            certainty: first.certainty,
            sentence: text![
                "Not passed: no limit of “",
                &plan.name,
                "” is broken, but the log shows something else. ",
                &first.sentence,
                others
            ],
        };
    }
    if let Some(first) = open.first() {
        return Verdict::unknown(text![
            format!(
                "Not enough evidence: no limit of “{}” is broken, but {} of {all} cannot be judged yet, first ",
                plan.name,
                open.len(),
            ),
            in_words(first),
            "."
        ]);
    }
    Verdict::new(
        Severity::Fine,
        0.95,
        format!("Passed: all {all} limits of “{}” are met.", plan.name),
    )
}

/// `rear left, fall of height over 72 h: 14 ± 3 mm where 10 mm are allowed`.
fn in_words(limit: &JudgedLimit) -> Text {
    let measured = (limit.measured).map_or_else(|| Text::from("not measured"), Text::from);
    let why = match &limit.outcome {
        Outcome::Open(why) => format!(" ({why})"),
        Outcome::Pass | Outcome::Fail => String::new(),
    };
    text![
        format!("{}, {}: ", place_words(&limit.place), limit.what),
        measured,
        ", limit ",
        limit.limit,
        why
    ]
}

/// Broken and open limits as findings, broken ones first.
fn findings(limits: &[JudgedLimit]) -> Vec<Finding> {
    let mut out: Vec<Finding> = limits
        .iter()
        .filter_map(|l| {
            let place = l.place.clone();
            let (conclusion, severity, probability, check) = match &l.outcome {
                Outcome::Pass => return None,
                Outcome::Fail => (
                    Conclusion::ProofFailed { place },
                    Severity::Act,
                    0.95,
                    "`seep diagnose` on the same log ranks what can be behind it; repair, then run the plan again.",
                ),
                Outcome::Open(_) => (
                    Conclusion::ProofOpen { place },
                    Severity::Unknown,
                    f64::NAN,
                    "Record what is missing and run the plan again on the longer log.",
                ),
            };
            let sentence = text![in_words(l), "."].capitalised();
            let mut f = Finding::new(&conclusion, severity, probability, &sentence)
                .with_evidence("limit", l.limit);
            if let Some(m) = l.measured {
                f = f.with_evidence("measured", m);
            }
            if !l.behind.is_empty() {
                f = f.with_evidence("behind it", l.behind.clone());
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

fn limits_section(plan: &LimitPlan, text: &str, limits: &[JudgedLimit]) -> Section {
    let mut section = Section::new("limits", "Limits");
    section.leads = true;
    section.plots = pictures::plots(limits);
    let columns = vec![
        Column::text("place"),
        Column::text("what"),
        Column::text("verdict"),
        Column::mixed("measured"),
        Column::mixed("limit"),
        Column::text("behind it"),
    ];
    let mut table = Table::new("limits", format!("Limits of “{}”", plan.name), columns);
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
            l.behind.clone().into(),
        ]);
    }
    section.tables.push(table);
    section
        .notes
        .push(format!("Plan file SHA-256: {}", sha256_hex(text)).into());
    section
}

fn forecast(plan: &LimitPlan, digest: &crate::digest::Digest, judgement: &Judgement) -> Section {
    let hours = plan.forecast_h();
    let mut section = Section::new("forecast", "Forecast");
    let columns = vec![
        Column::text("place"),
        Column::number("height now", Unit::Mm),
        Column::number("height then", Unit::Mm),
        Column::number("pressure now", Unit::KpaGauge),
        Column::number("pressure then", Unit::KpaGauge),
        Column::text("lowest height"),
    ];
    let caption = format!("If left parked from now: {hours} h later, at the losses measured");
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
            Cell::Number(a.kpa_then),
            a.reaches.map_or_else(
                || Cell::missing("the rig gives none, or no height"),
                |r| reaches_words(&r, hours).into(),
            ),
        ]);
    }
    section.tables.push(table);
    let mut table = Table::new(
        "lifts-left",
        "What the tank still gives without the compressor",
        vec![Column::text("quantity"), Column::mixed("value")],
    );
    table.push(match lifts_left(digest, judgement) {
        Ok(lifts) => vec![lift_words(lifts.from_mm).into(), Cell::Number(lifts.count)],
        Err(why) => vec![
            Cell::text("full lifts left in the tank"),
            Cell::missing(&why),
        ],
    });
    section.tables.push(table);
    section
}

fn height(mm: f64) -> Measured {
    Measured::exact(mm.round() + 0.0, Unit::Mm)
}

/// `full lifts left in the tank, every corner from −55 mm to 0 mm`.
fn lift_words(from_mm: (f64, f64)) -> Text {
    let mut text = text![
        "full lifts left in the tank, every corner from ",
        height(from_mm.0)
    ];
    if (from_mm.1 - from_mm.0).abs() >= 0.5 {
        text.push(text![" to ", height(from_mm.1)]);
    }
    text.push(text![" up to ", height(0.0)]);
    text
}

/// `reaches −40 mm after 9 h (6 to 14)`.
fn reaches_words(r: &Reaches, hours: f64) -> Text {
    let mm = height(r.mm);
    let (earliest, latest) = r.between_h;
    let h = |x: f64| {
        if x < 9.95 {
            format!("{x:.1}")
        } else {
            format!("{x:.0}")
        }
    };
    if latest <= 0.0 {
        text!["is below ", mm, " already"]
    } else if earliest > hours {
        text!["stays above ", mm, format!(" for {hours} h")]
    } else if latest.is_finite() {
        let after = format!(" after {} h ({} to {})", h(r.hours), h(earliest), h(latest));
        text!["reaches ", mm, after]
    } else {
        let after = format!(", after {} h at the earliest", h(earliest));
        text!["may reach ", mm, after]
    }
}

fn notes() -> Vec<Text> {
    vec![
        head::words_of_tables(),
        "A limit on holding speaks of the next hold. It is broken when a recorded hold broke it, \
         whatever moved the car: air, cooling, sun. It is met when the next hold lies within it with \
         95 % certainty: by the scatter of three or more whole holds, else by the air lost over at \
         least a quarter of its hours, with the usual cooling of a night on top."
            .into(),
        "The forecast carries the measured loss forward; heights fall by as much per litre as was \
         recorded and end at the lower stop, pressures end at that of the outside."
            .into(),
    ]
}
