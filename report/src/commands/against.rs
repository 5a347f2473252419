//! `--against` and `seep compare`: the same report with another span, or log, beside it.

mod pictures;

use super::{head, judged};
use crate::comparison::{Difference, compare};
use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::{Cell, Column, Measured, Report, Section, Severity, Table, Text, Unit};
use crate::recording::{Recording, RecordingError};
use crate::text;

/// What a report is set beside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beside {
    /// Another span of the same log.
    Span,
    /// Another log of the same car.
    Log,
    /// A log of another car.
    Car,
}

impl Beside {
    fn words(self) -> &'static str {
        match self {
            Beside::Span => "the other span",
            Beside::Log => "the other log",
            Beside::Car => "the other car",
        }
    }
}

/// The report of one log with that of another beside it.
///
/// # Errors
/// The log's errors.
pub fn of_logs(now: &Recording, before: &Recording) -> Result<Report, RecordingError> {
    let beside = if now.rig.vehicle == before.rig.vehicle {
        Beside::Log
    } else {
        Beside::Car
    };
    let judged_now = judged(now)?;
    let mut report = super::trip::of(now, &judged_now.0, &judged_now.1);
    report.command = "compare".into();
    report.title = "Comparison".into();
    set_beside(&mut report, &judged_now, before, beside)?;
    if beside == Beside::Car {
        report.notes.push(text![
            "“Before” is ",
            &before.rig.vehicle,
            ", another car: volumes, loads, lines and pumps differ, so a difference is no fault by \
             itself."
        ]);
    }
    Ok(report)
}

/// Put the comparison first in a report, and its result into the first sentences.
///
/// # Errors
/// The log's errors.
pub fn add(
    report: &mut Report,
    now: &Recording,
    before: &Recording,
    beside: Beside,
) -> Result<(), RecordingError> {
    set_beside(report, &judged(now)?, before, beside)
}

fn set_beside(
    report: &mut Report,
    now: &(Digest, Judgement),
    before: &Recording,
    beside: Beside,
) -> Result<(), RecordingError> {
    let (digest_before, judgement_before) = judged(before)?;
    let differences = compare((&digest_before, &judgement_before), (&now.0, &now.1));
    let sentence = sentence(&differences, beside);
    report.verdict.sentence.push(text![" ", &sentence]);
    if beside != Beside::Car && differences.iter().any(Difference::worse) {
        report.verdict.severity = report.verdict.severity.max(Severity::Watch);
    }
    report
        .sections
        .insert(0, section(before, &differences, beside, sentence));
    Ok(())
}

fn sentence(differences: &[Difference], beside: Beside) -> Text {
    let other = beside.words();
    let changed: Vec<&Difference> = differences.iter().filter(|d| d.changed()).collect();
    let Some(first) = changed.first() else {
        return match differences.len() {
            0 => {
                format!("Nothing that could be compared with {other} was recorded in both.").into()
            }
            n => {
                format!("Against {other} none of {n} quantities has changed beyond chance.").into()
            }
        };
    };
    let more = match changed.len() - 1 {
        0 => String::new(),
        1 => "; one more quantity has changed".into(),
        n => format!("; {n} more quantities have changed"),
    };
    text![
        format!("Against {other} "),
        in_words(first),
        format!(", beyond chance{more}.")
    ]
}

/// `compressor 1 delivers 6 ± 2 L/min ANR less`.
fn in_words(d: &Difference) -> Text {
    let difference = d.shown().difference;
    let size = size(&difference);
    let way = if difference.value > 0.0 {
        "more"
    } else {
        "less"
    };
    let what = &d.what;
    match d.quantity {
        "conductance" => text![what, " passes ", size, format!(" {way} air")],
        "loss at rest" => lost(d, size, way),
        "duty" => text![what, " runs ", size, format!(" {way} of the time")],
        "delivery" => text![what, " delivers ", size, format!(" {way}")],
        other => text![
            format!("the {other} of {what} is "),
            size,
            format!(" {way}")
        ],
    }
}

/// In height or pressure, which a person can see; as air where neither is known.
fn lost(d: &Difference, size: Measured, way: &str) -> Text {
    let what = &d.what;
    match d.plain {
        Some(_) => text![what, " falls ", size, format!(" {way} in ten hours parked")],
        None => text![what, " loses ", size, format!(" {way} at rest")],
    }
}

/// The change without its sign; the words say which way.
fn size(change: &Measured) -> Measured {
    if change.value >= 0.0 {
        return *change;
    }
    Measured {
        value: -change.value,
        low: change.high.map(|x| -x),
        high: change.low.map(|x| -x),
        ..*change
    }
}

fn section(before: &Recording, differences: &[Difference], beside: Beside, lead: Text) -> Section {
    let title = format!("Against {}", beside.words());
    let mut section = Section::new("against", &title);
    section.lead = Some(lead);
    section.leads = true;
    section.plots = pictures::plots(differences);
    let mut quantities: Vec<&str> = differences.iter().map(|d| d.quantity).collect();
    quantities.sort_unstable();
    quantities.dedup();
    for quantity in quantities {
        let own: Vec<&Difference> = differences
            .iter()
            .filter(|d| d.quantity == quantity)
            .collect();
        section.tables.push(table(before, quantity, &own));
    }
    section.notes.push(
        "Differences after Welch; conductances (how easily air passes a valve and its line) as ratios; duty \
         over hours; delivery at the same back pressure and voltage. “Beyond chance” is a p value below 5 % \
         over all rows together (Holm), so one row in many does not count by luck."
            .into(),
    );
    section
}

/// One quantity, so that its unit stands in the heading.
fn table(before: &Recording, quantity: &str, differences: &[&Difference]) -> Table {
    let unit = |pick: fn(&Difference) -> Measured| differences.first().map(|d| pick(d).unit);
    let number = |name: &str, unit: Option<Unit>| {
        unit.map_or_else(|| Column::mixed(name), |u| Column::number(name, u))
    };
    let columns = vec![
        Column::text(quantity),
        number("difference", unit(|d| d.difference)),
        Column::text("beyond chance"),
        number("before", unit(|d| d.before)),
        number("now", unit(|d| d.now)),
    ];
    let id = format!("against-{}", quantity.replace(' ', "-"));
    let caption = format!(
        "{}; {}",
        crate::render::capital_words(quantity),
        caption(before)
    );
    let mut table = Table::new(&id, &caption, columns);
    for d in differences {
        table.push(vec![
            Cell::text(&d.what),
            Cell::Number(d.difference),
            Cell::text(match (d.changed(), d.worse()) {
                (true, true) => "yes, worse",
                (true, false) => "yes, better",
                (false, _) => "no",
            }),
            Cell::Number(d.before),
            Cell::Number(d.now),
        ]);
    }
    table
}

fn caption(before: &Recording) -> String {
    let wall = |t: i64| {
        head::wall(before, t).map_or_else(
            || "an unknown time".to_string(),
            |w| w.at.strftime("%Y-%m-%d %H:%M").to_string(),
        )
    };
    format!(
        "before is {} to {}",
        wall(before.span.from_t_ms),
        wall(before.span.to_t_ms - 1)
    )
}
