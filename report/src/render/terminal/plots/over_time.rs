//! Channels over time in plain characters: one letter per trace, gaps left
//! open and dotted, marks in rows below.

use std::collections::BTreeMap;

use anstyle::Style;
use jiff::tz::TimeZone;

use crate::model::{Label, MarkKind, MarkSource, Panel, TimePlot, Trace};
use crate::render::axis::Axis;
use crate::render::place_style::PlaceStyles;
use crate::render::terminal::canvas::{self, Canvas, MARGIN};
use crate::render::terminal::page::Page;
use crate::render::units::{DisplayUnits, Shown};
use crate::render::{time_axis, words};

use super::{ROWS, axis_title, grid};

/// The time axis of a plot.
struct PlotTime {
    from: i64,
    length: f64,
}

impl PlotTime {
    fn of(plot: &TimePlot) -> PlotTime {
        PlotTime {
            from: plot.from_unix_ms,
            length: ((plot.to_unix_ms - plot.from_unix_ms) as f64).max(1.0),
        }
    }

    fn at(&self, t_unix_ms: i64) -> f64 {
        (t_unix_ms - self.from) as f64 / self.length
    }
}

/// Panels, time labels, mark rows, gaps.
pub(super) fn print(
    page: &mut Page,
    plot: &TimePlot,
    units: DisplayUnits,
    zone: &TimeZone,
    styles: &PlaceStyles,
) {
    let span = PlotTime::of(plot);
    let cols = page.width - MARGIN;
    for panel in &plot.panels {
        print_panel(page, panel, (plot, &span), units, styles);
    }
    page.line(&time_labels(plot, &span, zone, cols), Style::new());
    lanes(page, plot, &span, cols);
    gaps(page, plot);
    for note in &plot.notes {
        let text = format!("! {}", words::clean(&note.label));
        page.paragraph("  ", "    ", &text, Style::new());
    }
}

fn print_panel(
    page: &mut Page,
    panel: &Panel,
    (plot, span): (&TimePlot, &PlotTime),
    units: DisplayUnits,
    styles: &PlaceStyles,
) {
    let shown = units.shown(panel.unit);
    let (canvas, axis) = panel_canvas(
        panel,
        (plot, span),
        shown,
        styles,
        page.width - MARGIN,
        ROWS,
    );
    axis_title(page, &panel.label, shown.symbol);
    grid(page, &canvas, &axis);
    page.paragraph("  ", "  ", &legend(panel, styles), Style::new());
}

fn panel_canvas(
    panel: &Panel,
    (plot, span): (&TimePlot, &PlotTime),
    shown: Shown,
    styles: &PlaceStyles,
    cols: usize,
    rows: usize,
) -> (Canvas, Axis) {
    let values = panel.traces.iter().flat_map(|t| t.values.iter().flatten());
    let axis = Axis::around(values.map(|v| shown.apply(*v)), 5);
    let mut canvas = Canvas::new(cols, rows);
    for trace in &panel.traces {
        let letter = styles.letter(&trace.name);
        draw(&mut canvas, trace, letter, &axis, shown, span);
    }
    for col in gap_columns(plot, span, &canvas) {
        canvas.fill_empty(col, ':');
    }
    for note in &plot.notes {
        if let Some(col) = canvas.col(span.at(note.t_unix_ms)) {
            canvas.fill_empty(col, '!');
        }
    }
    (canvas, axis)
}

/// The first panel alone, `rows` high.
pub(super) fn picture(
    page: &mut Page,
    plot: &TimePlot,
    units: DisplayUnits,
    zone: &TimeZone,
    (rows, styles): (usize, &PlaceStyles),
) {
    let Some(panel) = plot.panels.first() else {
        return;
    };
    let span = PlotTime::of(plot);
    let shown = units.shown(panel.unit);
    let cols = page.width - MARGIN;
    let (canvas, axis) = panel_canvas(panel, (plot, &span), shown, styles, cols, rows);
    let names = legend(panel, styles);
    let text = format!("{} ({}): {names}", words::clean(&panel.label), shown.symbol);
    page.paragraph("  ", "  ", &text, Style::new());
    for line in canvas.rows(&axis) {
        page.line(&line, Style::new());
    }
    page.line(&time_labels(plot, &span, zone, cols), Style::new());
}

fn legend(panel: &Panel, styles: &PlaceStyles) -> String {
    let names = panel.traces.iter().map(|t| {
        let name = words::place(&t.name).replace(' ', "\u{a0}");
        format!("{}\u{a0}{name}", styles.letter(&t.name))
    });
    names.collect::<Vec<_>>().join(", ")
}

fn time_labels(plot: &TimePlot, span: &PlotTime, zone: &TimeZone, cols: usize) -> String {
    let ticks = time_axis::ticks(plot.from_unix_ms, plot.to_unix_ms, zone, cols / 12);
    let labels: Vec<(f64, String)> = ticks
        .into_iter()
        .map(|t| (span.at(t.t_unix_ms), t.label))
        .collect();
    canvas::foot(cols, &labels)
}

/// Each column filled from the lowest to the highest value in it.
fn draw(
    canvas: &mut Canvas,
    trace: &Trace,
    letter: char,
    axis: &Axis,
    shown: Shown,
    span: &PlotTime,
) {
    let mut columns: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    for (&t, value) in trace.t_unix_ms.iter().zip(&trace.values) {
        let (Some(value), Some(col)) = (value, canvas.col(span.at(t))) else {
            continue;
        };
        let y = shown.apply(*value);
        let range = columns.entry(col).or_insert((y, y));
        *range = (range.0.min(y), range.1.max(y));
    }
    for (col, (low, high)) in columns {
        canvas.run(col, axis, low, high, letter);
    }
}

/// Columns whose middle lies inside a gap.
fn gap_columns(plot: &TimePlot, span: &PlotTime, canvas: &Canvas) -> Vec<usize> {
    let inside = |position: f64| {
        plot.gaps
            .iter()
            .any(|g| span.at(g.from_unix_ms) <= position && position <= span.at(g.to_unix_ms))
    };
    (0..canvas.cols)
        .filter(|&col| inside((col as f64 + 0.5) / canvas.cols as f64))
        .collect()
}

/// One row per kind and place: `=` wired, `~` inferred.
fn lanes(page: &mut Page, plot: &TimePlot, span: &PlotTime, cols: usize) {
    let mut lanes: BTreeMap<(MarkKind, &str), Vec<char>> = BTreeMap::new();
    let grid = Canvas::new(cols, 1);
    for mark in &plot.marks {
        let lane = lanes
            .entry((mark.kind, mark.place.as_str()))
            .or_insert_with(|| vec![' '; cols]);
        let from = grid.col(span.at(mark.from_unix_ms).clamp(0.0, 1.0));
        let to = grid.col(span.at(mark.to_unix_ms).clamp(0.0, 1.0));
        let sign = match mark.source {
            MarkSource::Wired => '=',
            MarkSource::Inferred => '~',
        };
        if let (Some(from), Some(to)) = (from, to) {
            lane[from..=to.max(from)].fill(sign);
        }
    }
    if !lanes.is_empty() {
        let text = "Below: = from a recorded channel, ~ worked out from the pressures";
        page.paragraph("  ", "  ", text, Style::new());
    }
    for ((kind, place), lane) in lanes {
        page.line(&format!("  {}", words::mark(kind, place)), Style::new());
        let cells: String = lane.into_iter().collect();
        page.line(
            &format!("{:>width$}{cells}", "|", width = MARGIN),
            Style::new(),
        );
    }
}

/// Causes of the gaps with their number and total length.
fn gaps(page: &mut Page, plot: &TimePlot) {
    let mut causes: BTreeMap<&Label, (usize, i64)> = BTreeMap::new();
    for gap in &plot.gaps {
        let entry = causes.entry(&gap.cause).or_default();
        *entry = (entry.0 + 1, entry.1 + gap.to_unix_ms - gap.from_unix_ms);
    }
    for (cause, (count, total_ms)) in causes {
        let total = crate::render::scale::duration(total_ms as f64 / 1000.0);
        let text = format!(
            ": no data, {}: {}, {total} in all",
            words::clean(cause),
            words::times(count)
        );
        page.paragraph("  ", "  ", &text, Style::new());
    }
}
