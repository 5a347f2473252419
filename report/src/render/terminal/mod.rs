//! The report as text that fits a terminal.
//!
//! Colours are written as escape sequences; whoever prints decides whether
//! they stay ([`crate::output`] asks the terminal and `NO_COLOR`).

mod canvas;
mod columns;
mod findings;
mod page;
mod plots;
mod short;
mod table;

use anstyle::Style;

use crate::model::{Report, Section, Text};
use crate::render::units::DisplayUnits;

use super::place_style::PlaceStyles;
use super::{RenderOptions, health_tables, words};
use page::{BOLD, DIM, Page, severity_style};

/// The whole report: verdict, evidence, next check, tables, data health.
#[must_use]
pub fn render(report: &Report, options: &RenderOptions) -> String {
    if options.short {
        return short::render(report, options);
    }
    let mut page = Page::new(options.width);
    verdict(&mut page, report, options.units);
    let (leading, others): (Vec<_>, Vec<_>) = report.sections.iter().partition(|s| s.leads);
    for section in leading {
        print_section(&mut page, report, section, options);
    }
    findings::evidence(&mut page, report, options.units);
    findings::next_checks(&mut page, report, options.units);
    for section in others {
        print_section(&mut page, report, section, options);
    }
    notes(&mut page, "Remarks", &report.notes, options.units);
    signatures(&mut page, report);
    health(&mut page, report, options.units);
    page.finish()
}

fn verdict(page: &mut Page, report: &Report, units: DisplayUnits) {
    let verdict = &report.verdict;
    let word = verdict.severity.word().to_uppercase();
    let text = format!("{word}: {}", words::text(&verdict.sentence, units));
    page.paragraph("", "", &text, severity_style(verdict.severity));
    let certainty = words::certainty(verdict.certainty);
    page.paragraph("", "", &format!("Certainty: {certainty}."), Style::new());
    page.blank();
    let made_from = &report.made_from;
    let title = format!(
        "{} of {}, from {}",
        words::clean(&report.title),
        words::clean(&made_from.vehicle),
        words::clean(&made_from.log_file)
    );
    page.paragraph("", "", &title, BOLD);
    page.paragraph("", "", &words::span(report), Style::new());
    if let Some(label) = &made_from.invented {
        let text = format!("This is not a real recording: {}.", words::clean(label));
        page.paragraph("", "", &text, page::CAUTION);
    }
}

fn print_section(page: &mut Page, report: &Report, section: &Section, options: &RenderOptions) {
    page.heading(&words::clean(&section.title));
    if let Some(lead) = &section.lead {
        page.paragraph("", "", &words::text(lead, options.units), Style::new());
    }
    for table in &section.tables {
        table::print(page, table, options.units);
    }
    if options.text_plots {
        let zone = words::zone_of(report);
        let styles = PlaceStyles::of(report);
        for plot in &section.plots {
            plots::print(page, plot, options.units, &zone, &styles);
        }
    }
    if !section.plots.is_empty() && section.tables.is_empty() && !options.text_plots {
        let hint = "Drawn on the page of `--format html`, or here with `--plot`.";
        page.paragraph("", "", hint, Style::new());
    }
    for note in &section.notes {
        page.paragraph("  ", "  ", &words::text(note, options.units), DIM);
    }
}

fn notes(page: &mut Page, title: &str, notes: &[Text], units: DisplayUnits) {
    if notes.is_empty() {
        return;
    }
    page.heading(title);
    for note in notes {
        page.paragraph("- ", "  ", &words::text(note, units), Style::new());
    }
}

/// Lines to sign, for a print of the text.
fn signatures(page: &mut Page, report: &Report) {
    if report.signatures.is_empty() {
        return;
    }
    page.heading("Signatures");
    for who in &report.signatures {
        page.blank();
        let who = words::clean(who);
        page.line(
            &format!("{who:<14} ____________________   Place and date ____________________"),
            Style::new(),
        );
    }
}

fn health(page: &mut Page, report: &Report, units: DisplayUnits) {
    page.heading("Data health");
    for sentence in health_tables::sentences(&report.health, units) {
        page.paragraph("", "", &sentence, Style::new());
    }
    for table in health_tables::tables(&report.health) {
        table::print(page, &table, units);
    }
    page.blank();
    provenance(page, report);
}

fn provenance(page: &mut Page, report: &Report) {
    let made_from = &report.made_from;
    let lines = [
        ("log SHA-256", words::clean(&made_from.log_sha256)),
        ("rig hash", words::clean(&made_from.rig_hash)),
        ("made by", format!("seep {}", report.program_version)),
    ];
    for (name, value) in lines {
        if !value.is_empty() {
            page.paragraph(&format!("{name:<12} "), "             ", &value, DIM);
        }
    }
    let text = "± and (low to high) are 95 % intervals unless another level stands beside them.";
    page.paragraph("", "", text, DIM);
}
