//! Findings as text: evidence first, then what to check next.

use anstyle::Style;
use textwrap::core::display_width;

use crate::model::{Finding, Report};
use crate::render::units::DisplayUnits;
use crate::render::words;

use super::page::{BOLD, CAUTION, DIM, Page, severity_style};

const INDENT: &str = "     ";

/// Every finding with its evidence and its rivals.
pub(super) fn evidence(page: &mut Page, report: &Report, units: DisplayUnits) {
    if report.findings.is_empty() {
        return;
    }
    page.heading("Evidence");
    for (i, finding) in report.findings.iter().enumerate() {
        if i > 0 {
            page.blank();
        }
        print_finding(page, i + 1, finding, units);
    }
}

fn print_finding(page: &mut Page, number: usize, finding: &Finding, units: DisplayUnits) {
    let title = format!(
        "{}: {}. {}, {}.",
        words::capital(&words::place(&finding.place)),
        finding.kind.name(),
        words::capital(finding.severity.word()),
        words::certainty(finding.certainty)
    );
    let first = format!("{number:>3}  ");
    page.paragraph(&first, INDENT, &title, severity_style(finding.severity));
    page.paragraph(
        INDENT,
        INDENT,
        &words::text(&finding.sentence, units),
        Style::new(),
    );
    measured(page, finding, units);
    rivals(page, finding, units);
}

/// Label, value and remark of each piece of evidence, in columns if they fit.
fn measured(page: &mut Page, finding: &Finding, units: DisplayUnits) {
    let label_width = finding
        .evidence
        .iter()
        .map(|e| display_width(&words::text(&e.label, units)))
        .max()
        .unwrap_or(0)
        .min(34);
    for evidence in &finding.evidence {
        let label = words::text(&evidence.label, units);
        let fill = label_width.saturating_sub(display_width(&label));
        let value = words::standing_alone(&evidence.value, units);
        let text = format!("{label}{}  {value}", "\u{a0}".repeat(fill));
        let text = match &evidence.remark {
            Some(remark) => format!("{text}  ({})", words::text(remark, units)),
            None => text,
        };
        let hang = INDENT.len() + 2 + label_width + 2;
        let rest = " ".repeat(hang.min(page.width / 2));
        page.paragraph(&format!("{INDENT}  "), &rest, &text, Style::new());
    }
}

fn rivals(page: &mut Page, finding: &Finding, units: DisplayUnits) {
    if !finding.candidates.is_empty() {
        let ranked: Vec<String> = finding
            .candidates
            .iter()
            .map(|c| format!("{} {}", words::text(&c.name, units), words::likelihood(c)))
            .collect();
        let text = format!("Explanations by likelihood: {}.", ranked.join(", "));
        page.paragraph(INDENT, INDENT, &text, Style::new());
    }
    if let Some(sentence) = &finding.would_separate {
        let text = format!(
            "{}: {}",
            words::separation_lead(finding),
            words::text(sentence, units)
        );
        page.paragraph(INDENT, INDENT, &text, DIM);
    }
}

/// The next check of every finding that has one.
pub(super) fn next_checks(page: &mut Page, report: &Report, units: DisplayUnits) {
    let numbered = report.findings.iter().enumerate();
    let checks: Vec<_> = numbered
        .filter_map(|(i, f)| f.next_check.as_ref().map(|check| (i + 1, f, check)))
        .collect();
    if checks.is_empty() {
        return;
    }
    page.heading("Next check");
    for (number, finding, check) in checks {
        let first = format!("{number:>3}  ");
        let text = format!(
            "{}: {}",
            words::capital(&words::place(&finding.place)),
            words::text(&check.instruction, units)
        );
        page.paragraph(&first, INDENT, &text, BOLD);
        if let Some(caution) = &check.caution {
            let text = format!("Caution: {}", words::text(caution, units));
            page.paragraph(INDENT, INDENT, &text, CAUTION);
        }
    }
}
