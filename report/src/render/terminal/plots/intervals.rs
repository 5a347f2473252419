//! Labelled rows with intervals, one line of characters each.

use anstyle::Style;

use crate::model::{IntervalPlot, IntervalRow};
use crate::render::axis::Axis;
use crate::render::units::{DisplayUnits, Shown};
use crate::render::words;

use super::super::page::Page;

/// Columns of the labels at most.
const LABEL: usize = 30;

/// Columns of what stands behind a row at most.
const BEHIND: usize = 24;

/// Title and rows; those for which there is no room are counted.
pub(super) fn picture(page: &mut Page, plot: &IntervalPlot, units: DisplayUnits, rows: usize) {
    let text = format!("{} ({})", words::clean(&plot.title), legend(plot, units));
    page.paragraph("  ", "  ", &text, Style::new());
    print_rows(page, plot, units, rows);
}

/// Scale and rows, without the title.
pub(super) fn print(page: &mut Page, plot: &IntervalPlot, units: DisplayUnits, rows: usize) {
    let text = format!("{} ({})", words::clean(&plot.x_label), legend(plot, units));
    page.paragraph("  ", "  ", &text, Style::new());
    print_rows(page, plot, units, rows);
}

/// `o now, + before, ! limit; mm`.
fn legend(plot: &IntervalPlot, units: DisplayUnits) -> String {
    let has = |f: fn(&IntervalRow) -> bool| plot.rows.iter().any(f);
    let before = has(|r| r.before.is_some());
    let mut parts = vec![if before { "o now" } else { "o value" }];
    if before {
        parts.push("+ before");
    }
    if has(|r| r.limit.is_some()) {
        parts.push("! limit");
    }
    if has(|r| !r.others.is_empty()) {
        parts.push(": its other places");
    }
    format!("{}; {}", parts.join(", "), units.shown(plot.unit).symbol)
}

fn print_rows(page: &mut Page, plot: &IntervalPlot, units: DisplayUnits, rows: usize) {
    let shown = units.shown(plot.unit);
    let (low, high) = plot.range();
    let axis = Axis::around([shown.apply(low), shown.apply(high)], 5);
    // One row for "and 3 more" where they do not all fit.
    let count = if plot.rows.len() <= rows {
        plot.rows.len()
    } else {
        rows.saturating_sub(1)
    };
    let drawn = &plot.rows[..count];
    let labels: Vec<String> = drawn
        .iter()
        .map(|r| cut(words::clean(&r.label), LABEL.min(page.width * 2 / 5)))
        .collect();
    let behind: Vec<String> = drawn
        .iter()
        .map(|r| cut(behind(r, &axis, shown), BEHIND.min(page.width / 3)))
        .collect();
    let widest = |texts: &[String]| texts.iter().map(|t| t.chars().count()).max().unwrap_or(0);
    let (left, right) = (widest(&labels), widest(&behind));
    let cols = page.width.saturating_sub(left + right + 6).max(8);
    for ((row, label), behind) in drawn.iter().zip(&labels).zip(&behind) {
        let cells = cells(row, &axis, shown, cols);
        let line = format!("  {label:<left$} |{cells}| {behind}");
        page.line(line.trim_end(), Style::new());
    }
    let more = plot.rows.len() - count;
    let foot = foot(&axis, cols);
    let count = if more > 0 {
        format!("and {more} more")
    } else {
        String::new()
    };
    page.line(
        format!("  {:<left$}  {foot}", cut(count, left)).trim_end(),
        Style::new(),
    );
}

/// The value in the unit of the scale, and the outcome in words.
fn behind(row: &IntervalRow, axis: &Axis, shown: Shown) -> String {
    let value = row.value.map(|v| value_words(shown.apply(v.value), axis));
    [value.as_deref().unwrap_or(""), &words::clean(&row.remark)]
        .join(" ")
        .trim()
        .to_string()
}

/// To a hundredth of the scale at the finest.
fn value_words(value: f64, axis: &Axis) -> String {
    let finest = 2.0 - (axis.high - axis.low).log10().floor();
    let digits = finest.clamp(0.0, 6.0) as usize - usize::from(finest > 0.0);
    let text = format!("{value:.digits$}").replace('-', "−");
    if text
        .trim_start_matches('−')
        .chars()
        .all(|c| matches!(c, '0' | '.'))
    {
        return text.trim_start_matches('−').to_string();
    }
    text
}

fn cut(clean: String, most: usize) -> String {
    if clean.chars().count() <= most {
        return clean;
    }
    let kept: String = clean.chars().take(most.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

/// Others below, then the intervals, the limit, the values on top.
fn cells(row: &IntervalRow, axis: &Axis, shown: Shown, cols: usize) -> String {
    let mut cells = vec![' '; cols];
    let at = |v: f64| {
        let position = axis.position(shown.apply(v)).clamp(0.0, 1.0);
        (0..cols)
            .take_while(|i| (*i as f64) < position * cols as f64 - 0.5)
            .count()
            .min(cols - 1)
    };
    for other in &row.others {
        cells[at(*other)] = ':';
    }
    for m in [&row.before, &row.value].into_iter().flatten() {
        let (from, to) = (
            at(m.low.unwrap_or(f64::MIN)),
            at(m.high.unwrap_or(f64::MAX)),
        );
        for cell in &mut cells[from.min(to)..=from.max(to)] {
            *cell = '-';
        }
    }
    if let Some(limit) = row.limit {
        cells[at(limit)] = '!';
    }
    for (m, mark) in [(&row.before, '+'), (&row.value, 'o')] {
        if let Some(m) = m {
            cells[at(m.value)] = mark;
        }
    }
    cells.into_iter().collect()
}

/// Labels of the scale, those that would touch left out.
fn foot(axis: &Axis, cols: usize) -> String {
    let mut line = String::new();
    for tick in &axis.ticks {
        let width = tick.label.chars().count();
        let middle = (axis.position(tick.at) * cols as f64) as usize;
        let start = middle
            .saturating_sub(width / 2)
            .min(cols.saturating_sub(width));
        let used = line.chars().count();
        if used > 0 && start < used + 1 {
            continue;
        }
        line.push_str(&" ".repeat(start.saturating_sub(used)));
        line.push_str(&tick.label);
    }
    line
}
