//! The report as one self-contained page: no network, no outside font, no
//! frame. Readable on a phone, printable on A4, light and dark.

mod figure;
mod findings;
mod policy;
mod prose;
mod table;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::model::{Label, Plot, Report, Section};

use super::place_style::PlaceStyles;
use super::units::DisplayUnits;
use super::{RenderOptions, health_tables, scale, words};
use figure::{Detail, Look};
use prose::prose;

const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("zoom.js");

/// The whole report as HTML.
#[must_use]
pub fn render(report: &Report, options: &RenderOptions) -> String {
    let title = format!(
        "{}: {}",
        words::clean(&report.title),
        words::clean(&report.made_from.vehicle)
    );
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy::policy(STYLE, SCRIPT));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="referrer" content="no-referrer";
                meta name="generator" content=(format!("seep {}", report.program_version));
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body.sheet[options.one_sheet] {
                a.skip href="#answer" { "To the answer" }
                (figure::shared_shapes())
                (header(report, options.units))
                @if options.one_sheet {
                    main id="answer" tabindex="-1" { (sheet(report, options)) }
                } @else {
                    (contents(report))
                    main id="answer" tabindex="-1" { (body(report, options)) }
                }
                (footer(report))
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    let mut text = page.into_string();
    text.push('\n');
    text
}

/// Verdict first; the vehicle and the span in small type above it.
fn header(report: &Report, units: DisplayUnits) -> Markup {
    let verdict = &report.verdict;
    let made_from = &report.made_from;
    html! {
        header {
            p.over {
                (words::clean(&report.title)) " of " b { (words::clean(&made_from.vehicle)) }
                br;
                (words::span(report))
            }
            @if let Some(label) = &made_from.invented {
                p.invented { "This is not a real recording: " (words::clean(label)) "." }
            }
            div.verdict.(verdict.severity.word()) id="verdict" {
                p.word { (words::capital(verdict.severity.word())) }
                h1 { (prose(&verdict.sentence, units)) }
                p { "Certainty: " (words::certainty(verdict.certainty)) "." }
            }
        }
    }
}

fn contents(report: &Report) -> Markup {
    html! {
        nav aria-label="Contents" {
            ul {
                @if !report.signatures.is_empty() {
                    li { a href="#signatures" { "Signatures" } }
                }
                @for section in report.sections.iter().filter(|s| s.leads) { (entry(section)) }
                @if !report.findings.is_empty() {
                    li { a href="#evidence" { "Evidence" } }
                    li { a href="#next-check" { "Next check" } }
                }
                @for section in report.sections.iter().filter(|s| !s.leads) { (entry(section)) }
                li { a href="#data-health" { "Data health" } }
            }
        }
    }
}

fn entry(section: &Section) -> Markup {
    html! { li { a href=(format!("#{}", anchor(&section.id))) { (words::clean(&section.title)) } } }
}

/// What a customer is handed: the picture, what to do, cautions, lines to sign.
fn sheet(report: &Report, options: &RenderOptions) -> Markup {
    let look = look(report);
    let zone = words::zone_of(report);
    let plots = report.sections.iter().filter(|s| s.leads);
    let first: Vec<Plot> = plots.flat_map(|s| &s.plots).take(1).cloned().collect();
    let who = ["Workshop".into(), "Customer".into()];
    html! {
        (figure::figures(&first, options.units, &zone, &look))
        (findings::next_checks(report, options.units))
        p.note {
            "Recorded " (words::share(report.health.coverage)) " of "
            (scale::duration(report.health.span_s)) ". Whether the car is safe to drive is not judged here."
        }
        (lines_to_sign(if report.signatures.is_empty() { &who[..] } else { &report.signatures[..] }))
    }
}

fn look(report: &Report) -> Look {
    Look {
        detail: Detail::for_traces(trace_count(report)),
        styles: PlaceStyles::of(report),
    }
}

fn body(report: &Report, options: &RenderOptions) -> Markup {
    let look = look(report);
    html! {
        (signatures(report))
        @for section in report.sections.iter().filter(|s| s.leads) {
            (print_section(report, section, options, &look))
        }
        (findings::evidence(report, options.units))
        (findings::next_checks(report, options.units))
        @for section in report.sections.iter().filter(|s| !s.leads) {
            (print_section(report, section, options, &look))
        }
        @if !report.notes.is_empty() {
            section id="remarks" {
                h2 { "Remarks" }
                ul { @for note in &report.notes { li { (prose(note, options.units)) } } }
            }
        }
        (health(report, options))
    }
}

/// Lines to sign on the print.
fn signatures(report: &Report) -> Markup {
    html! {
        @if !report.signatures.is_empty() { (lines_to_sign(&report.signatures)) }
    }
}

fn lines_to_sign(signatures: &[Label]) -> Markup {
    html! {
        section id="signatures" {
            h2 { "Signatures" }
            @for who in signatures {
                div.sign {
                    span { (words::clean(who)) }
                    span { "Place and date" }
                    span { "Signature" }
                }
            }
        }
    }
}

fn print_section(
    report: &Report,
    section: &Section,
    options: &RenderOptions,
    look: &Look,
) -> Markup {
    let zone = words::zone_of(report);
    html! {
        section id=(anchor(&section.id)) {
            h2 { (words::clean(&section.title)) }
            @if let Some(lead) = &section.lead { p { (prose(lead, options.units)) } }
            // What leads a page is a picture; elsewhere the table does.
            @if section.leads { (figure::figures(&section.plots, options.units, &zone, look)) }
            @for t in &section.tables { (table::table(t, options.units)) }
            @if !section.leads { (figure::figures(&section.plots, options.units, &zone, look)) }
            @for note in &section.notes { p.note { (prose(note, options.units)) } }
        }
    }
}

fn health(report: &Report, options: &RenderOptions) -> Markup {
    html! {
        section id="data-health" {
            h2 { "Data health" }
            @for sentence in health_tables::sentences(&report.health, options.units) { p { (sentence) } }
            @for t in health_tables::tables(&report.health) { (table::table(&t, options.units)) }
        }
    }
}

fn footer(report: &Report) -> Markup {
    let made_from = &report.made_from;
    html! {
        footer {
            p { "± and (low to high) are 95 % intervals unless another level stands beside them. "
                "Times are in " (words::clean(&made_from.zone)) "." }
            dl {
                dt { "Log" } dd { (words::clean(&made_from.log_file)) }
                @if !made_from.log_sha256.is_empty() {
                    dt { "Log SHA-256" } dd.hash { (words::clean(&made_from.log_sha256)) }
                }
                @if !made_from.rig_hash.is_empty() {
                    dt { "Rig hash" } dd.hash { (words::clean(&made_from.rig_hash)) }
                }
                dt { "Made by" } dd { "seep " (report.program_version) ", " (report.schema) }
            }
        }
    }
}

/// Letters, digits and dashes only, so that it can stand in an address.
fn anchor(id: &str) -> String {
    let safe = id
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' });
    format!("s-{}", safe.collect::<String>())
}

fn trace_count(report: &Report) -> usize {
    let plots = report.sections.iter().flat_map(|s| &s.plots);
    plots
        .map(|plot| match plot {
            Plot::Time(p) => p.panels.iter().map(|panel| panel.traces.len()).sum(),
            _ => 0,
        })
        .sum()
}
