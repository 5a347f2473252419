//! Every table, one after another, for a spreadsheet.
//!
//! Each table starts with a line `section,TITLE,table,CAPTION`, then its
//! headings, then its rows, then an empty line. Numbers are plain numbers at
//! full precision in the reader's units; a column with intervals becomes
//! value, low, high and kind. Format: RFC 4180, UTF-8, CR LF.

mod columns;
pub(crate) mod writer;

use crate::model::{Cell, Column, Finding, Label, Report, Table};
use crate::render::units::DisplayUnits;

use super::{health_tables, words};
use columns::Sheet;
use writer::{Field, Writer};

/// The report's tables, findings and health as CSV.
#[must_use]
pub fn render(report: &Report, units: DisplayUnits) -> String {
    let mut out = Writer::default();
    table(&mut out, &report.title, &head(report), units);
    if !report.findings.is_empty() {
        table(&mut out, "Findings", &findings(&report.findings), units);
        table(&mut out, "Findings", &evidence(&report.findings), units);
        table(&mut out, "Findings", &candidates(&report.findings), units);
    }
    for section in &report.sections {
        for t in &section.tables {
            table(&mut out, &section.title, t, units);
        }
    }
    for t in health_tables::tables(&report.health) {
        table(&mut out, "Data health", &t, units);
    }
    out.finish()
}

fn table(out: &mut Writer, section: impl Into<Label>, table: &Table, units: DisplayUnits) {
    out.record([
        Field::text("section"),
        Field::text(&words::clean(&section.into())),
        Field::text("table"),
        Field::text(&words::clean(&table.caption)),
    ]);
    let sheet = Sheet::of(table, units);
    out.record(sheet.headings().iter().map(|h| Field::text(h)));
    for row in &table.rows {
        out.record(sheet.fields(row));
    }
    out.empty_line();
}

/// Verdict and provenance as name and value.
fn head(report: &Report) -> Table {
    let mut table = Table::new(
        "report",
        "Verdict and provenance",
        vec![Column::text("name"), Column::text("value")],
    );
    let made_from = &report.made_from;
    let mut push = |name: &str, value: Cell| table.push(vec![name.into(), value]);
    push("severity", report.verdict.severity.word().into());
    push("verdict", report.verdict.sentence.clone().into());
    push("certainty", report.verdict.certainty.word.words().into());
    // As words: one number among them would give its unit to the whole column.
    let percent = report.verdict.certainty.percent;
    push(
        "certainty percent",
        percent.map_or_else(
            || Cell::missing("not computed"),
            |p| Cell::text(&format!("{p}")),
        ),
    );
    push("vehicle", (&made_from.vehicle).into());
    push("log file", (&made_from.log_file).into());
    push("log SHA-256", (&made_from.log_sha256).into());
    push("rig hash", (&made_from.rig_hash).into());
    for (name, time) in [("from", &made_from.from), ("to", &made_from.to)] {
        let cell = time
            .clone()
            .map_or_else(|| Cell::missing("empty log"), Cell::WallTime);
        push(name, cell);
    }
    push("zone", (&made_from.zone).into());
    let coverage = 100.0 * made_from.coverage;
    let coverage = coverage.is_finite().then(|| format!("{coverage:.2}"));
    push(
        "coverage percent",
        coverage.map_or_else(|| Cell::missing("not known"), Cell::from),
    );
    push("clock", made_from.clock.word().into());
    if let Some(label) = &made_from.invented {
        push("not a real recording", label.into());
    }
    push("schema", report.schema.clone().into());
    push("made by", format!("seep {}", report.program_version).into());
    table
}

fn findings(all: &[Finding]) -> Table {
    let names = [
        "kind",
        "place",
        "severity",
        "certainty",
        "sentence",
        "next check",
        "caution",
    ];
    let columns = names.iter().map(|n| Column::text(*n)).collect();
    let mut table = Table::new("findings", "Findings", columns);
    for f in all {
        let check = f.next_check.as_ref();
        let caution = check.and_then(|c| c.caution.clone());
        table.push(vec![
            f.kind.name().into(),
            f.place.clone().into(),
            f.severity.word().into(),
            words::certainty(f.certainty).replace('\u{a0}', " ").into(),
            f.sentence.clone().into(),
            check
                .map(|c| c.instruction.clone())
                .unwrap_or_default()
                .into(),
            caution.unwrap_or_default().into(),
        ]);
    }
    table
}

fn evidence(all: &[Finding]) -> Table {
    let columns = vec![
        Column::text("kind"),
        Column::text("place"),
        Column::text("measured"),
        Column::mixed("value"),
        Column::text("remark"),
    ];
    let mut table = Table::new("evidence", "Evidence", columns);
    for f in all {
        for e in &f.evidence {
            table.push(vec![
                f.kind.name().into(),
                f.place.clone().into(),
                e.label.clone().into(),
                e.value.clone(),
                e.remark.clone().unwrap_or_default().into(),
            ]);
        }
    }
    table
}

fn candidates(all: &[Finding]) -> Table {
    let names = ["kind", "place", "explanation"];
    let mut columns: Vec<Column> = names.iter().map(|n| Column::text(*n)).collect();
    columns.push(Column::number("likelihood", crate::model::Unit::Percent));
    let mut table = Table::new("explanations", "Explanations by likelihood", columns);
    for f in all {
        for c in &f.candidates {
            let percent = c.likelihood * 100.0;
            table.push(vec![
                f.kind.name().into(),
                f.place.clone().into(),
                c.name.clone().into(),
                crate::model::Measured::exact(percent, crate::model::Unit::Percent).into(),
            ]);
        }
    }
    table
}
