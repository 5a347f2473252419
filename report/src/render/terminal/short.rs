//! The answer on one screen: verdict, figures, one picture, what to do.

use anstyle::Style;

use crate::model::{
    Cell, Evidence, Finding, IntervalPlot, Plot, Report, Severity, Table, Text, Unit,
};
use crate::render::place_style::PlaceStyles;
use crate::render::units::DisplayUnits;
use crate::render::{RenderOptions, scale, words};

use super::page::{CAUTION, DIM, Page, severity_style};
use super::{plots, table};

/// Lines of the whole answer.
pub(super) const MOST_LINES: usize = 20;

/// A lower picture shows nothing.
const LEAST_ROWS: usize = 4;

/// A higher one adds nothing.
const MOST_ROWS: usize = 7;

/// Figures behind the verdict.
const MOST_FIGURES: usize = 3;

/// The report as an answer of at most [`MOST_LINES`] lines, where the verdict itself
/// leaves room.
pub(super) fn render(report: &Report, options: &RenderOptions) -> String {
    let first = first_finding(report);
    let head = head(report, options);
    let tail = tail(report, first, options);
    let room = MOST_LINES.saturating_sub(lines(&head) + lines(&tail));
    let middle = middle(report, first, options, room);
    // Free air at the reference conditions is air; `--full` says which conditions.
    [head, middle, tail].concat().replace(" ANR", " air")
}

fn lines(text: &str) -> usize {
    text.lines().count()
}

/// The finding that the answer is about.
fn first_finding(report: &Report) -> Option<&Finding> {
    let first = report.findings.first()?;
    (first.severity > Severity::Unknown).then_some(first)
}

fn head(report: &Report, options: &RenderOptions) -> String {
    let mut page = Page::new(options.width);
    let verdict = &report.verdict;
    let word = verdict.severity.word().to_uppercase();
    let text = format!(
        "{word}: {} Certainty: {}.",
        words::text(&verdict.sentence, options.units),
        words::certainty(verdict.certainty)
    );
    page.paragraph("", "", &text, severity_style(verdict.severity));
    let made_from = &report.made_from;
    let invented = match &made_from.invented {
        Some(label) => format!(" Not a real recording: {}.", words::clean(label)),
        None => String::new(),
    };
    let about = format!(
        "{} of {}, {}.{invented}",
        words::clean(&report.title),
        words::clean(&made_from.vehicle),
        words::span_to_minute(report)
    );
    page.paragraph("", "", &about, DIM);
    page.blank();
    page.finish_with_blank()
}

/// Figures and a picture, as far as there is room.
fn middle(
    report: &Report,
    first: Option<&Finding>,
    options: &RenderOptions,
    room: usize,
) -> String {
    if let Some(table) = listed(report, first) {
        return rows_that_fit(table, options, room);
    }
    let picture = leading_plot(report);
    let evidence = first.map_or_else(Vec::new, |f| plain_first(&f.evidence));
    let evidence = evidence.as_slice();
    if let Some(picture @ Plot::Intervals(plot)) = picture {
        return with_rows(picture, plot, evidence, (report, options), room);
    }
    for count in (1..=MOST_FIGURES.min(evidence.len())).rev() {
        let figures = figures(&evidence[..count], options);
        let left = room.saturating_sub(lines(&figures));
        match picture.and_then(|plot| drawn(plot, report, options, left)) {
            Some(drawing) => return figures + &drawing,
            None if count == 1 || picture.is_none() => return figures,
            None => {}
        }
    }
    picture
        .and_then(|plot| drawn(plot, report, options, room))
        .unwrap_or_default()
}

/// As many figures as leave room for every row of the picture; the rows count more.
fn with_rows(
    picture: &Plot,
    plot: &IntervalPlot,
    evidence: &[Evidence],
    (report, options): (&Report, &RenderOptions),
    room: usize,
) -> String {
    let all = plot.rows.len().min(MOST_LINES);
    let least = all.min(LEAST_ROWS);
    for rows in (least..=all).rev() {
        let drawing = with_height(picture, report, options, rows).unwrap_or_default();
        for count in (0..=MOST_FIGURES.min(evidence.len())).rev() {
            let figures = figures(&evidence[..count], options);
            if lines(&figures) + lines(&drawing) <= room {
                return figures + &drawing;
            }
        }
    }
    String::new()
}

/// What stands in the place of evidence: the rows of a list.
fn listed<'a>(report: &'a Report, first: Option<&Finding>) -> Option<&'a Table> {
    let tables = || report.sections.iter().flat_map(|s| &s.tables);
    match &report.brief {
        Some(brief) => Some(brief),
        None if first.is_none() && leading_plot(report).is_none() => {
            tables().find(|t| !t.rows.is_empty())
        }
        None => None,
    }
}

fn leading_plot(report: &Report) -> Option<&Plot> {
    let leading = report.sections.iter().filter(|s| s.leads);
    leading.flat_map(|s| &s.plots).next()
}

/// As many rows as fit; the others are counted.
fn rows_that_fit(table: &Table, options: &RenderOptions, room: usize) -> String {
    let mut shown = table.clone();
    // Each row takes a line at least.
    shown.rows.truncate(room.max(1));
    loop {
        let mut page = Page::new(options.width);
        table::print(&mut page, &shown, options.units);
        let left = table.rows.len() - shown.rows.len();
        if left > 0 {
            page.line(&format!("  and {left} more"), DIM);
        }
        page.blank();
        let text = page.finish_with_blank();
        if lines(&text) <= room || shown.rows.len() <= 1 {
            return text;
        }
        shown.rows.pop();
    }
}

/// Figures in units that a gauge or a tape shows. Those of air itself stand in for them
/// only where there are no others.
fn plain_first(evidence: &[Evidence]) -> Vec<Evidence> {
    let (technical, plain): (Vec<_>, Vec<_>) = evidence.iter().cloned().partition(is_technical);
    let measured = |e: &Evidence| matches!(e.value, Cell::Number(m) if m.unit != Unit::Count);
    if plain.iter().any(measured) {
        plain
    } else {
        technical.into_iter().chain(plain).collect()
    }
}

fn is_technical(evidence: &Evidence) -> bool {
    let Cell::Number(m) = &evidence.value else {
        return false;
    };
    matches!(
        m.unit,
        Unit::AnrCm3PerMin
            | Unit::AnrLitresPerMin
            | Unit::AnrLitres
            | Unit::SonicConductance
            | Unit::SonicConductancePerDay
    )
}

fn figures(evidence: &[Evidence], options: &RenderOptions) -> String {
    let mut page = Page::new(options.width);
    for e in evidence {
        let value = words::standing_alone(&e.value, options.units);
        let text = format!("{}: {value}", words::text(&e.label, options.units));
        page.paragraph("  ", "    ", &text, Style::new());
    }
    page.finish_with_blank()
}

/// The picture with as many rows as there is room for.
fn drawn(plot: &Plot, report: &Report, options: &RenderOptions, room: usize) -> Option<String> {
    (LEAST_ROWS..=MOST_ROWS).rev().find_map(|rows| {
        let text = with_height(plot, report, options, rows)?;
        (lines(&text) <= room).then_some(text)
    })
}

/// The picture with a number of rows; none where its kind needs more room.
fn with_height(
    plot: &Plot,
    report: &Report,
    options: &RenderOptions,
    rows: usize,
) -> Option<String> {
    let zone = words::zone_of(report);
    let styles = PlaceStyles::of(report);
    let mut page = Page::new(options.width);
    plots::picture(&mut page, plot, options.units, &zone, rows, &styles).then_some(())?;
    page.blank();
    Some(page.finish_with_blank())
}

/// What to do, with its caution; what else there is.
fn tail(report: &Report, first: Option<&Finding>, options: &RenderOptions) -> String {
    let mut page = Page::new(options.width);
    if let Some(check) = first.and_then(|f| f.next_check.as_ref()) {
        let text = format!(
            "Next: {}",
            first_sentence(&check.instruction, options.units)
        );
        page.paragraph("", "      ", &text, Style::new());
        if let Some(caution) = &check.caution {
            let text = format!("Caution: {}", first_sentence(caution, options.units));
            page.paragraph("", "         ", &text, CAUTION);
        }
    }
    page.paragraph("", "", &more(report), DIM);
    page.finish_with_blank()
}

fn first_sentence(text: &Text, units: DisplayUnits) -> String {
    let clean = words::text(text, units);
    match clean.split_once(". ") {
        Some((first, _)) => format!("{first}."),
        None => clean,
    }
}

fn more(report: &Report) -> String {
    let others = report.findings.len().saturating_sub(1);
    let found = match others {
        0 => String::new(),
        1 => "One more finding. ".to_string(),
        n => format!("{n} more findings. "),
    };
    let health = &report.health;
    format!(
        "{found}Recorded {} of {}. Everything: --full.",
        words::share(health.coverage),
        scale::duration(health.span_s),
    )
}
