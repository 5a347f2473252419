//! Nothing and far too much: every format still gives a whole report.

use seep_report::model::{
    Cell, ClockState, Column, DataHealth, MadeFrom, Plot, Report, Section, Table, Verdict,
};
use seep_report::render::{Format, RenderOptions, render};

use crate::invented;

const FORMATS: [Format; 4] = [Format::Text, Format::Json, Format::Csv, Format::Html];

fn bare() -> Report {
    let made_from = MadeFrom {
        log_file: String::new().into(),
        log_sha256: String::new().into(),
        rig_hash: String::new().into(),
        vehicle: String::new().into(),
        from: None,
        to: None,
        zone: "no such zone".into(),
        coverage: f64::NAN,
        clock: ClockState::Unsynced,
        invented: None,
        places: Vec::new(),
    };
    let verdict = Verdict::unknown("Nothing was recorded.");
    Report::new("leaks", "Leaks", made_from, verdict, DataHealth::default())
}

#[test]
fn an_empty_log_gives_a_report_that_says_so() {
    for format in FORMATS {
        let text = render(&bare(), format, &RenderOptions::default());
        assert!(text.contains("Nothing was recorded."), "{format:?}");
    }
}

#[test]
fn plots_and_tables_without_values_do_no_harm() {
    let mut report = bare();
    let mut section = Section::new("", "");
    section.tables.push(Table::new("", "", Vec::new()));
    section
        .tables
        .push(Table::new("x", "x", vec![Column::text("a")]));
    section.plots = invented::plots::empty();
    report.sections.push(section);
    let options = RenderOptions {
        text_plots: true,
        width: 0,
        ..RenderOptions::default()
    };
    for format in FORMATS {
        let text = render(&report, format, &options);
        let text = text.replace("inferred", "").replace("Infinity", "");
        assert!(!text.contains("NaN") && !text.contains("inf"), "{format:?}");
    }
}

/// Three long plots, thirty fits and tables of thousands of rows.
#[test]
fn a_heavy_fortnight_still_opens_on_a_phone() {
    let mut report = invented::report();
    let mut section = Section::new("heavy", "Heavy");
    for copy in 0..33 {
        let mut plot = if copy < 3 {
            invented::plots::over_time()
        } else {
            invented::plots::fit()
        };
        match &mut plot {
            Plot::Time(p) => {
                p.id = format!("long-{copy}");
                let marks = p.marks.clone();
                p.marks = marks.iter().cycle().take(6_000).cloned().collect();
            }
            Plot::Fit(p) => p.id = format!("fit-{copy}"),
            _ => {}
        }
        section.plots.push(plot);
    }
    let columns = (0..9)
        .map(|i| Column::text(format!("column {i}")))
        .collect();
    let mut table = Table::new("long", "Long", columns);
    for row in 0..8_000 {
        table.push(
            (0..9)
                .map(|i| Cell::text(&format!("row {row} cell {i}")))
                .collect(),
        );
    }
    section.tables.push(table);
    report.sections.push(section);
    let page = render(&report, Format::Html, &RenderOptions::default());
    assert!(page.len() < 2_000_000, "{} bytes", page.len());
    assert!(page.contains("7600 further rows are left out here"));
    let csv = render(&report, Format::Csv, &RenderOptions::default());
    assert!(csv.contains("row 7999 cell 8"), "the CSV has every row");
}
