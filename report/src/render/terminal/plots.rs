//! Plots in plain characters, for a terminal without a browser at hand.

mod over_time;

use anstyle::Style;
use jiff::tz::TimeZone;

use crate::model::{Bar, BarPlot, CurvePoint, FitPlot, Measured, Plot, TrendPlot};
use crate::plain_units::PlainUnits;
use crate::render::axis::Axis;
use crate::render::{number, scale, time_axis, words};

use super::canvas::{self, Canvas, MARGIN};
use super::page::{BOLD, DIM, Page};

/// Rows of a plot.
const ROWS: usize = 12;

/// Rows of a residual panel.
const RESIDUAL_ROWS: usize = 5;

/// Print one plot with title and caption.
pub(super) fn print(page: &mut Page, plot: &Plot, units: PlainUnits, zone: &TimeZone) {
    page.blank();
    page.paragraph("  ", "  ", &words::clean(plot.title()), BOLD);
    let caption = match plot {
        Plot::Time(p) => {
            over_time::print(page, p, units, zone);
            &p.caption
        }
        Plot::Fit(p) => {
            fit(page, p, units);
            &p.caption
        }
        Plot::Bars(p) => {
            bars(page, p, units);
            &p.caption
        }
        Plot::Trend(p) => {
            trend(page, p, units, zone);
            &p.caption
        }
    };
    page.paragraph("  ", "  ", &words::clean(caption), DIM);
}

/// `label (unit)` above a grid.
fn axis_title(page: &mut Page, label: &str, symbol: &str) {
    let text = if symbol.is_empty() {
        words::clean(label)
    } else {
        format!("{} ({symbol})", words::clean(label))
    };
    page.paragraph("  ", "  ", &text, Style::new());
}

fn grid(page: &mut Page, canvas: &Canvas, axis: &Axis) {
    for line in canvas.lines(axis) {
        page.line(&line, Style::new());
    }
}

fn fit(page: &mut Page, plot: &FitPlot, units: PlainUnits) {
    let shown = units.shown(plot.unit);
    let seconds = plot.points.iter().map(|p| p.0);
    let seconds = seconds.chain(plot.curve.iter().map(|c| c.x));
    let last = seconds.fold(0.0, f64::max);
    let (divisor, x_symbol) = scale::time_scale(last);
    let x_axis = Axis::between(0.0, (last / divisor).max(1e-9), 5);
    let at = |s: f64| x_axis.position(s / divisor);
    let ys = plot.points.iter().map(|p| p.1);
    let ys = ys.chain(plot.curve.iter().flat_map(|c| [c.low, c.high]));
    let axis = Axis::around(ys.map(|y| shown.apply(y)), 5);
    let mut canvas = Canvas::new(page.width - MARGIN, ROWS);
    curve(&mut canvas, &axis, &plot.curve, at, |y| shown.apply(y));
    for &(x, y) in &plot.points {
        canvas.dot(at(x), &axis, shown.apply(y), 'o');
    }
    axis_title(page, &plot.y_label, shown.symbol);
    grid(page, &canvas, &axis);
    let residuals = plot.residuals.iter().map(|r| r.1 * shown.factor);
    let r_axis = Axis::around(residuals.chain([0.0]), 2);
    let mut below = Canvas::new(canvas.cols, RESIDUAL_ROWS);
    for step in 0..below.cols {
        below.dot(step as f64 / below.cols as f64, &r_axis, 0.0, '-');
    }
    for &(x, r) in &plot.residuals {
        below.dot(at(x), &r_axis, r * shown.factor, 'o');
    }
    axis_title(page, "measured minus fitted", shown.symbol);
    grid(page, &below, &r_axis);
    let labels: Vec<(f64, String)> = x_axis
        .ticks
        .iter()
        .map(|t| (x_axis.position(t.at), t.label.clone()))
        .collect();
    page.line(&canvas::foot(canvas.cols, &labels), Style::new());
    let legend = format!(
        "{} ({x_symbol}). o measured, - fitted, . 95 % band",
        words::clean(&plot.x_label)
    );
    page.paragraph("  ", "  ", &legend, Style::new());
}

/// Band edges as dots, the curve as dashes, one of each per column.
fn curve(
    canvas: &mut Canvas,
    axis: &Axis,
    points: &[CurvePoint],
    at: impl Fn(f64) -> f64,
    apply: impl Fn(f64) -> f64,
) {
    for col in 0..canvas.cols {
        let middle = (col as f64 + 0.5) / canvas.cols as f64;
        let pair = points
            .windows(2)
            .find(|p| at(p[0].x) <= middle && middle <= at(p[1].x));
        let Some([a, b]) = pair else { continue };
        let share = (middle - at(a.x)) / (at(b.x) - at(a.x)).max(f64::MIN_POSITIVE);
        let between = |from: f64, to: f64| apply(from + (to - from) * share);
        canvas.dot(middle, axis, between(a.low, b.low), '.');
        canvas.dot(middle, axis, between(a.high, b.high), '.');
        canvas.dot(middle, axis, between(a.y, b.y), '-');
    }
}

/// Below this width a bar's coverage is left to the table.
const ROOM_FOR_COVERAGE: usize = 70;

fn bars(page: &mut Page, plot: &BarPlot, units: PlainUnits) {
    let shown = units.shown(plot.unit);
    let values = plot.bars.iter().filter_map(|b| b.value.as_ref());
    let values = values.flat_map(|m| [Some(m.value), m.high]).flatten();
    let references = plot.references.iter().map(|r| r.value);
    let largest = values
        .chain(references)
        .map(|v| shown.apply(v))
        .fold(0.0, f64::max);
    let wide = page.width >= ROOM_FOR_COVERAGE;
    let room = page
        .width
        .saturating_sub(MARGIN + if wide { 34 } else { 18 });
    let length = |v: f64| bar_length(shown.apply(v), largest, room);
    axis_title(
        page,
        &format!("{} by {}", plot.y_label, plot.x_label),
        shown.symbol,
    );
    for bar in &plot.bars {
        let mut cells = vec![' '; room];
        if let Some(m) = &bar.value {
            cells[..length(m.value)].fill('#');
        }
        for reference in &plot.references {
            cells[length(reference.value).min(room - 1)] = '!';
        }
        let cells: String = cells.into_iter().collect();
        let label = words::clean(&bar.label);
        let text = bar_text(bar, units, wide);
        page.line(&format!("  {label:>9} |{cells}| {text}"), Style::new());
    }
    for reference in &plot.references {
        let value = Measured::exact(reference.value, plot.unit);
        let label = words::clean(&reference.label);
        let text = format!("! {label}: {}", number::phrase(&value, units));
        page.paragraph("  ", "  ", &text, Style::new());
    }
}

fn bar_text(bar: &Bar, units: PlainUnits, with_coverage: bool) -> String {
    let Some(m) = &bar.value else {
        return "nothing recorded".to_string();
    };
    let text = number::phrase(m, units);
    if with_coverage && bar.coverage < 0.995 {
        return format!("{text}, recorded {}", words::share(bar.coverage));
    }
    text
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn bar_length(value: f64, largest: f64, room: usize) -> usize {
    if largest <= 0.0 || value <= 0.0 {
        return 0;
    }
    ((value / largest * room as f64).round() as usize).min(room)
}

fn trend(page: &mut Page, plot: &TrendPlot, units: PlainUnits, zone: &TimeZone) {
    let shown = units.shown(plot.unit);
    let times = plot.points.iter().map(|p| p.t_unix_ms);
    let (Some(from), Some(to)) = (times.clone().min(), times.max()) else {
        page.paragraph("  ", "  ", "(no points)", DIM);
        return;
    };
    let span = ((to - from) as f64).max(1.0);
    let at = |t: f64| (t - from as f64) / span;
    let ys = plot.points.iter().flat_map(|p| [Some(p.y), p.low, p.high]);
    let ys = ys
        .flatten()
        .chain(plot.trend.iter().flat_map(|c| [c.low, c.high]));
    let axis = Axis::around(ys.map(|y| shown.apply(y)), 5);
    let mut canvas = Canvas::new(page.width - MARGIN, ROWS);
    curve(&mut canvas, &axis, &plot.trend, at, |y| shown.apply(y));
    for p in &plot.points {
        canvas.dot(at(p.t_unix_ms as f64), &axis, shown.apply(p.y), 'o');
    }
    for step in &plot.steps {
        if let Some(col) = canvas.col(at(step.t_unix_ms as f64)) {
            canvas.fill_empty(col, '!');
        }
    }
    axis_title(page, &plot.y_label, shown.symbol);
    grid(page, &canvas, &axis);
    let labels: Vec<(f64, String)> = time_axis::ticks(from, to, zone, 6)
        .into_iter()
        .map(|t| (at(t.t_unix_ms as f64), t.label))
        .collect();
    page.line(&canvas::foot(canvas.cols, &labels), Style::new());
    page.paragraph("  ", "  ", "o measured, - trend, . 95 % band", Style::new());
    for step in &plot.steps {
        page.paragraph(
            "  ",
            "  ",
            &format!("! {}", words::clean(&step.label)),
            Style::new(),
        );
    }
}
