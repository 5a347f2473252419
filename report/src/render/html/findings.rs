//! Findings: evidence, rivals, and what to check next.

use maud::{Markup, html};

use crate::model::{Cell, Finding, Report};
use crate::render::units::DisplayUnits;
use crate::render::words;

use super::prose::prose;
use super::table::missing_value;

/// Every finding with its evidence.
pub(super) fn evidence(report: &Report, units: DisplayUnits) -> Markup {
    html! {
        @if !report.findings.is_empty() {
            section id="evidence" {
                h2 { "Evidence" }
                @for (i, finding) in report.findings.iter().enumerate() {
                    (article(i + 1, finding, units))
                }
            }
        }
    }
}

fn article(number: usize, finding: &Finding, units: DisplayUnits) -> Markup {
    let id = format!("finding-{number}");
    html! {
        article.finding.(finding.severity.word()) aria-labelledby=(id) {
            h3 id=(id) {
                (number) ". " (words::capital(&words::place(&finding.place))) ": "
                (finding.kind.name())
            }
            p.tag { b { (words::capital(finding.severity.word())) } ", " (words::certainty(finding.certainty)) }
            p { (prose(&finding.sentence, units)) }
            @if !finding.evidence.is_empty() { (measured(finding, units)) }
            @if !finding.candidates.is_empty() { (rivals(finding, units)) }
            @if let Some(sentence) = &finding.would_separate {
                p.note { (words::separation_lead(finding)) ": " (prose(sentence, units)) }
            }
        }
    }
}

fn measured(finding: &Finding, units: DisplayUnits) -> Markup {
    let remarked = finding.evidence.iter().any(|e| e.remark.is_some());
    html! {
        table.measured {
            caption.hidden { "Measured" }
            thead.hidden { tr { th scope="col" { "Measured" } th scope="col" { "Value" } @if remarked { th scope="col" { "Remark" } } } }
            tbody {
                @for e in &finding.evidence {
                    tr {
                        th scope="row" { (words::text(&e.label, units)) }
                        td {
                            @match &e.value {
                                Cell::Missing { reason } => (missing_value(reason, units)),
                                other => (words::standing_alone(other, units)),
                            }
                        }
                        @if remarked { td { @if let Some(remark) = &e.remark { (words::text(remark, units)) } } }
                    }
                }
            }
        }
    }
}

/// Candidates with a bar each; the number stands beside it.
fn rivals(finding: &Finding, units: DisplayUnits) -> Markup {
    html! {
        p.lead-in { "Explanations by likelihood" }
        ol.rivals {
            @for c in &finding.candidates {
                @let width = format!("{:.1}", (c.likelihood * 100.0).clamp(0.0, 100.0));
                li {
                    svg viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true" {
                        rect.rail width="100" height="8" {}
                        rect.share width=(width) height="8" {}
                    }
                    span { (words::likelihood(c)) } " " (words::text(&c.name, units))
                }
            }
        }
    }
}

/// The next check of every finding that has one, each with its caution.
pub(super) fn next_checks(report: &Report, units: DisplayUnits) -> Markup {
    let any = report.findings.iter().any(|f| f.next_check.is_some());
    html! {
        @if !report.findings.is_empty() {
            section id="next-check" {
                h2 { "Next check" }
                @if !any { p { "Nothing to check." } }
                @for (i, finding) in report.findings.iter().enumerate() {
                    @if let Some(check) = &finding.next_check {
                        div.check {
                            p {
                                a href=(format!("#finding-{}", i + 1)) { (i + 1) ". " (words::capital(&words::place(&finding.place))) }
                                ": " (prose(&check.instruction, units))
                            }
                            @if let Some(caution) = &check.caution {
                                p.caution { b { "Caution: " } (prose(caution, units)) }
                            }
                        }
                    }
                }
            }
        }
    }
}
