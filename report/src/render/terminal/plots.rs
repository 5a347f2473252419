//! Plots in plain characters, for a terminal without a browser at hand.

mod intervals;
mod over_time;

use anstyle::Style;
use jiff::tz::TimeZone;

use crate::model::{Bar, BarPlot, CurvePoint, FitPlot, Label, Measured, Plot, TrendPlot};
use crate::render::axis::Axis;
use crate::render::place_style::PlaceStyles;
use crate::render::units::{DisplayUnits, Shown};
use crate::render::{number, scale, time_axis, words};

use super::canvas::{self, Canvas, MARGIN};
use super::page::{BOLD, DIM, Page};

/// Rows of a plot.
const ROWS: usize = 12;

/// Rows of a residual panel.
const RESIDUAL_ROWS: usize = 5;

/// Print one plot with title and caption.
pub(super) fn print(
    page: &mut Page,
    plot: &Plot,
    units: DisplayUnits,
    zone: &TimeZone,
    styles: &PlaceStyles,
) {
    page.blank();
    page.paragraph("  ", "  ", &words::clean(plot.title()), BOLD);
    let caption = match plot {
        Plot::Time(p) => {
            over_time::print(page, p, units, zone, styles);
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
        Plot::Intervals(p) => {
            intervals::print(page, p, units, p.rows.len());
            &p.caption
        }
    };
    page.paragraph("  ", "  ", &words::clean(caption), DIM);
}

/// `label (unit)` above a grid.
fn axis_title(page: &mut Page, label: &Label, symbol: &str) {
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

/// A plot without title, caption and residuals, `rows` high; `false` for those that
/// need more room.
pub(super) fn picture(
    page: &mut Page,
    plot: &Plot,
    units: DisplayUnits,
    zone: &TimeZone,
    rows: usize,
    styles: &PlaceStyles,
) -> bool {
    match plot {
        Plot::Fit(p) => {
            let frame = FitFrame::of(p, units);
            page.paragraph("  ", "  ", &fit_heading(p, &frame), Style::new());
            let canvas = fit_canvas(p, &frame, page.width - MARGIN, rows, false);
            for line in canvas.rows(&frame.axis) {
                page.line(&line, Style::new());
            }
            page.line(&frame.foot(canvas.cols), Style::new());
        }
        Plot::Trend(p) => trend_grid(page, p, units, zone, (rows, &p.title)),
        Plot::Time(p) => over_time::picture(page, p, units, zone, (rows, styles)),
        Plot::Intervals(p) => intervals::picture(page, p, units, rows),
        Plot::Bars(_) => return false,
    }
    true
}

/// `height (mm): o rear right, = without the loss, : other places`.
fn fit_heading(plot: &FitPlot, frame: &FitFrame) -> String {
    let mut parts = vec![format!("{} (o measured", words::clean(&plot.title))];
    if !plot.without.is_empty() {
        parts.push("= without the loss".into());
    }
    if !plot.others.is_empty() {
        parts.push(": other places".into());
    }
    format!(
        "{}; {} over {})",
        parts.join(", "),
        frame.shown.symbol,
        frame.x_symbol
    )
}

/// Axes of a fit.
struct FitFrame {
    shown: Shown,
    axis: Axis,
    x_axis: Axis,
    divisor: f64,
    x_symbol: &'static str,
}

impl FitFrame {
    fn of(plot: &FitPlot, units: DisplayUnits) -> FitFrame {
        let shown = units.shown(plot.unit);
        let others = || plot.others.iter().flat_map(|o| &o.points);
        let seconds = plot.points.iter().chain(others()).map(|p| p.0);
        let last = seconds
            .chain(plot.curve.iter().map(|c| c.x))
            .fold(0.0, f64::max);
        let (divisor, x_symbol) = scale::time_scale(last);
        let ys = plot.points.iter().chain(&plot.without).chain(others());
        let ys = ys
            .map(|p| p.1)
            .chain(plot.curve.iter().flat_map(|c| [c.low, c.high]));
        FitFrame {
            axis: Axis::around(ys.map(|y| shown.apply(y)), 5),
            x_axis: Axis::between(0.0, (last / divisor).max(1e-9), 5),
            shown,
            divisor,
            x_symbol,
        }
    }

    fn at(&self, seconds: f64) -> f64 {
        self.x_axis.position(seconds / self.divisor)
    }

    /// Labels below the grid.
    fn foot(&self, cols: usize) -> String {
        let ticks = self.x_axis.ticks.iter();
        let labels: Vec<(f64, String)> = ticks
            .map(|t| (self.x_axis.position(t.at), t.label.clone()))
            .collect();
        canvas::foot(cols, &labels)
    }
}

/// Others below, then what is expected, the fit, the measured points on top.
fn fit_canvas(
    plot: &FitPlot,
    frame: &FitFrame,
    cols: usize,
    rows: usize,
    with_curve: bool,
) -> Canvas {
    let mut canvas = Canvas::new(cols, rows);
    let mut dots = |points: &[(f64, f64)], mark: char| {
        for &(x, y) in points {
            canvas.dot(frame.at(x), &frame.axis, frame.shown.apply(y), mark);
        }
    };
    for other in &plot.others {
        dots(&other.points, ':');
    }
    dots(&plot.without, '=');
    if with_curve {
        let apply = |y| frame.shown.apply(y);
        curve(
            &mut canvas,
            &frame.axis,
            &plot.curve,
            |x| frame.at(x),
            apply,
        );
    }
    for &(x, y) in &plot.points {
        canvas.dot(frame.at(x), &frame.axis, frame.shown.apply(y), 'o');
    }
    canvas
}

fn fit(page: &mut Page, plot: &FitPlot, units: DisplayUnits) {
    let frame = FitFrame::of(plot, units);
    let canvas = fit_canvas(plot, &frame, page.width - MARGIN, ROWS, true);
    axis_title(page, &plot.y_label, frame.shown.symbol);
    grid(page, &canvas, &frame.axis);
    let factor = frame.shown.factor;
    let residuals = plot.residuals.iter().map(|r| r.1 * factor);
    let r_axis = Axis::around(residuals.chain([0.0]), 2);
    let mut below = Canvas::new(canvas.cols, RESIDUAL_ROWS);
    for step in 0..below.cols {
        below.dot(step as f64 / below.cols as f64, &r_axis, 0.0, '-');
    }
    for &(x, r) in &plot.residuals {
        below.dot(frame.at(x), &r_axis, r * factor, 'o');
    }
    axis_title(page, &"measured minus fitted".into(), frame.shown.symbol);
    grid(page, &below, &r_axis);
    page.line(&frame.foot(canvas.cols), Style::new());
    let mut legend = format!(
        "{} ({}). o measured, - fitted, . 95 % band",
        words::clean(&plot.x_label),
        frame.x_symbol
    );
    if !plot.without.is_empty() {
        legend.push_str(", = without the loss");
    }
    if !plot.others.is_empty() {
        let names: Vec<String> = plot.others.iter().map(|o| words::place(&o.name)).collect();
        legend.push_str(&format!(", : {}", names.join(", ")));
    }
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

fn bars(page: &mut Page, plot: &BarPlot, units: DisplayUnits) {
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
        &format!(
            "{} by {}",
            words::clean(&plot.y_label),
            words::clean(&plot.x_label)
        )
        .into(),
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

fn bar_text(bar: &Bar, units: DisplayUnits, with_coverage: bool) -> String {
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

fn trend(page: &mut Page, plot: &TrendPlot, units: DisplayUnits, zone: &TimeZone) {
    trend_grid(page, plot, units, zone, (ROWS, &plot.y_label));
    page.paragraph("  ", "  ", "o measured, - trend, . 95 % band", Style::new());
    for step in &plot.steps {
        let text = format!("! {}", words::clean(&step.label));
        page.paragraph("  ", "  ", &text, Style::new());
    }
}

fn trend_grid(
    page: &mut Page,
    plot: &TrendPlot,
    units: DisplayUnits,
    zone: &TimeZone,
    (rows, heading): (usize, &Label),
) {
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
    let mut canvas = Canvas::new(page.width - MARGIN, rows);
    curve(&mut canvas, &axis, &plot.trend, at, |y| shown.apply(y));
    for p in &plot.points {
        canvas.dot(at(p.t_unix_ms as f64), &axis, shown.apply(p.y), 'o');
    }
    for step in &plot.steps {
        if let Some(col) = canvas.col(at(step.t_unix_ms as f64)) {
            canvas.fill_empty(col, '!');
        }
    }
    axis_title(page, heading, shown.symbol);
    grid(page, &canvas, &axis);
    let labels: Vec<(f64, String)> = time_axis::ticks(from, to, zone, 6)
        .into_iter()
        .map(|t| (at(t.t_unix_ms as f64), t.label))
        .collect();
    page.line(&canvas::foot(canvas.cols, &labels), Style::new());
}
