//! A fitted curve with its band, and the residuals below.

use maud::{Markup, html};

use crate::model::{Column, CurvePoint, FitPlot, Measured, Table, Trace, Unit};
use crate::render::axis::Axis;
use crate::render::units::DisplayUnits;
use crate::render::{scale, words};

use super::frame::{self, HEIGHT, LOW_HEIGHT, WIDTH, fine, short, y_px};
use super::{Look, spoken, style};

/// Spans the points are thinned to.
const POINT_BINS: usize = 150;

/// Rows of the table behind the plot.
const TABLE_ROWS: usize = 40;

/// The plot.
pub(super) fn figure(plot: &FitPlot, units: DisplayUnits, look: &Look) -> Markup {
    let place = plot
        .place
        .as_deref()
        .map_or_else(String::new, |p| style(look, p));
    let shown = units.shown(plot.unit);
    let seconds = plot.points.iter().map(|p| p.0);
    let last = seconds
        .chain(plot.curve.iter().map(|c| c.x))
        .fold(0.0, f64::max);
    let (divisor, x_symbol) = scale::time_scale(last);
    let x_axis = Axis::between(0.0, (last / divisor).max(1e-9), 5);
    let at = |s: f64| x_axis.position(s / divisor);
    let others = plot.others.iter().flat_map(|o| &o.points);
    let ys = plot.points.iter().chain(&plot.without).chain(others);
    let ys = ys
        .map(|p| p.1)
        .chain(plot.curve.iter().flat_map(|c| [c.low, c.high]));
    let axis = Axis::around(ys.map(|y| shown.apply(y)), 5);
    let points = thinned(&plot.points);
    let y_at = |y: f64| y_px(&axis, shown.apply(y), HEIGHT);
    let stretched = html! {
        g class=(place) {
        @for other in &plot.others { path.other d=(polyline(&other.points, at, y_at)) {} }
        path.band d=(band(&plot.curve, at, |y| y_px(&axis, shown.apply(y), HEIGHT))) {}
        path.dots d=(dots(&points, at, |y| y_px(&axis, shown.apply(y), HEIGHT))) {}
        path.without d=(polyline(&plot.without, at, y_at)) {}
        path.fitted d=(curve(&plot.curve, at, |y| y_px(&axis, shown.apply(y), HEIGHT))) {}
        }
    };
    let r_axis = Axis::around(
        plot.residuals
            .iter()
            .map(|r| r.1 * shown.factor)
            .chain([0.0]),
        3,
    );
    let residuals = html! {
        g class=(place) {
        path.zero d=(format!("M0 {}H1000", short(y_px(&r_axis, 0.0, LOW_HEIGHT)))) {}
        path.dots d=(dots(&thinned(&plot.residuals), at, |y| y_px(&r_axis, y * shown.factor, LOW_HEIGHT))) {}
        }
    };
    let y_title = frame::axis_title(&plot.y_label, shown.symbol);
    let r_title = frame::axis_title(&"measured minus fitted".into(), shown.symbol);
    let left = plot.residuals.iter().map(|r| r.1);
    let left = spoken::range(left, difference(plot.unit), units);
    let r_spoken = format!("{r_title}: {}", left.unwrap_or("nothing measured".into()));
    let drawing = html! {
        p.axis { (y_title) }
        div class=(place) { (legend("fitted")) }
        (comparison(plot))
        (frame::row(&axis, HEIGHT, &spoken(plot, &y_title, units), &stretched, &html! {}))
        p.axis { (r_title) }
        (frame::row(&r_axis, LOW_HEIGHT, &r_spoken, &residuals, &html! {}))
        (frame::x_strip(&frame::number_labels(&x_axis)))
        p.axis.below { (frame::axis_title(&plot.x_label, x_symbol)) }
    };
    let caption = html! { (words::clean(&plot.caption)) };
    frame::figure(
        &plot.id,
        &plot.title,
        &caption,
        &drawing,
        &table(plot),
        units,
    )
}

/// What dots, line and band are.
pub(super) fn legend(line: &str) -> Markup {
    html! {
        ul.legend {
            li { svg width="30" height="12" aria-hidden="true" { path.dots d="M6 6h0M15 4h0M24 7h0" {} } "measured" }
            li { svg width="30" height="12" aria-hidden="true" { path.fitted d="M0 6H30" {} } (line) }
            li { svg width="30" height="12" aria-hidden="true" { path.band d="M0 1H30V11H0z" {} } "95 % band" }
        }
    }
}

/// What the curve does, for those who hear the page.
fn spoken(plot: &FitPlot, y_title: &str, units: DisplayUnits) -> String {
    let (Some(first), Some(last)) = (plot.curve.first(), plot.curve.last()) else {
        return format!("{y_title}: no curve is fitted");
    };
    let shown = units.shown(plot.unit);
    let change = (last.y - first.y) * shown.factor;
    let does = if change < 0.0 { "falls" } else { "rises" };
    format!(
        "{y_title}: points, fitted curve and band; the curve {does} by {:.2} {} in {}",
        change.abs(),
        shown.symbol,
        scale::duration(last.x - first.x)
    )
}

/// What is drawn beside the place in question.
fn comparison(plot: &FitPlot) -> Markup {
    html! {
        @if !plot.without.is_empty() || !plot.others.is_empty() {
            ul.legend {
                @if !plot.without.is_empty() {
                    li { svg width="30" height="12" aria-hidden="true" { path.without d="M0 6H30" {} } "without the loss" }
                }
                @if !plot.others.is_empty() {
                    li {
                        svg width="30" height="12" aria-hidden="true" { path.other d="M0 6H30" {} }
                        (others(plot))
                    }
                }
            }
        }
    }
}

fn others(plot: &FitPlot) -> String {
    let names: Vec<String> = plot.others.iter().map(|o| words::place(&o.name)).collect();
    names.join(", ")
}

fn polyline(points: &[(f64, f64)], at: impl Fn(f64) -> f64, y: impl Fn(f64) -> f64) -> String {
    line(points.iter().map(|p| (at(p.0) * WIDTH, y(p.1))))
}

/// Points thinned to their extremes.
fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let t = points.iter().map(|p| (p.0 * 1000.0) as i64).collect();
    let trace = Trace::new("", t, points.iter().map(|p| Some(p.1)).collect());
    let thin = trace.thinned(POINT_BINS);
    let times = thin.t_unix_ms.iter().map(|t| *t as f64 / 1000.0);
    times.zip(thin.values.into_iter().flatten()).collect()
}

/// Round dots: strokes of no length with round ends do not stretch.
fn dots(points: &[(f64, f64)], at: impl Fn(f64) -> f64, y: impl Fn(f64) -> f64) -> String {
    points
        .iter()
        .map(|p| format!("M{} {}h0", short(at(p.0) * WIDTH), short(y(p.1))))
        .collect()
}

/// The middle line.
pub(super) fn curve(
    points: &[CurvePoint],
    at: impl Fn(f64) -> f64,
    y: impl Fn(f64) -> f64,
) -> String {
    line(points.iter().map(|p| (at(p.x) * WIDTH, y(p.y))))
}

/// The band as a closed outline: along the top, back along the bottom.
pub(super) fn band(
    points: &[CurvePoint],
    at: impl Fn(f64) -> f64,
    y: impl Fn(f64) -> f64,
) -> String {
    let top = points.iter().map(|p| (at(p.x) * WIDTH, y(p.high)));
    let bottom = points.iter().rev().map(|p| (at(p.x) * WIDTH, y(p.low)));
    let d = line(top.chain(bottom));
    if d.is_empty() { d } else { format!("{d}z") }
}

fn line(points: impl Iterator<Item = (f64, f64)>) -> String {
    points
        .enumerate()
        .map(|(i, (x, y))| format!("{}{} {}", if i == 0 { 'M' } else { 'L' }, short(x), fine(y)))
        .collect()
}

/// Some of the points with their residuals.
fn table(plot: &FitPlot) -> Table {
    let columns = vec![
        Column::mixed("time"),
        Column::number("measured", plot.unit),
        Column::number("measured minus fitted", difference(plot.unit)),
    ];
    let every = plot.points.len().div_ceil(TABLE_ROWS).max(1);
    let caption = if every == 1 {
        "Every point".to_string()
    } else {
        format!("Every {every}th of {} points", plot.points.len())
    };
    let mut table = Table::new("behind", &caption, columns);
    for (i, point) in plot.points.iter().enumerate().step_by(every) {
        let residual = plot.residuals.get(i).map(|r| r.1);
        table.rows.push(vec![
            Measured::exact(point.0, Unit::Seconds).into(),
            Measured::exact(point.1, plot.unit).into(),
            crate::model::Cell::number_or(
                residual.map(|r| Measured::exact(r, difference(plot.unit))),
                "not given",
            ),
        ]);
    }
    table
}

/// A difference of temperatures has no offset.
fn difference(unit: Unit) -> Unit {
    match unit {
        Unit::Celsius => Unit::KelvinDifference,
        Unit::KpaGauge | Unit::KpaAbs => Unit::KpaDifference,
        other => other,
    }
}
