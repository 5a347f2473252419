//! A quantity per move or run over days, with its trend and its steps.

use jiff::tz::TimeZone;
use maud::{Markup, html};

use crate::model::{Cell, Column, Measured, ScatterPoint, Table, TrendPlot, Unit, WallTime};
use crate::plain_units::PlainUnits;
use crate::render::axis::Axis;
use crate::render::{time_axis, words};

use super::fit::{band, curve, legend};
use super::frame::{self, HEIGHT, percent, short, y_px};

/// Rows of the table behind the plot.
const TABLE_ROWS: usize = 200;

/// The plot.
pub(super) fn figure(plot: &TrendPlot, units: PlainUnits, zone: &TimeZone) -> Markup {
    let shown = units.shown(plot.unit);
    let times = plot.points.iter().map(|p| p.t_unix_ms);
    let from = times.clone().min().unwrap_or(0);
    let to = times.max().unwrap_or(from).max(from + 1);
    // A margin keeps the first and the last point off the edge.
    let margin = (to - from) / 50 + 1;
    let (from, to) = (from - margin, to + margin);
    let at = |t: f64| (t - from as f64) / (to - from) as f64;
    let ys = plot.points.iter().flat_map(|p| [Some(p.y), p.low, p.high]);
    let ys = ys
        .flatten()
        .chain(plot.trend.iter().flat_map(|c| [c.low, c.high]));
    let axis = Axis::around(ys.map(|y| shown.apply(y)), 5);
    let y = |v: f64| y_px(&axis, shown.apply(v), HEIGHT);
    let stretched = html! {
        path.band d=(band(&plot.trend, at, y)) {}
        path.fitted d=(curve(&plot.trend, at, y)) {}
    };
    let overlay = html! {
        @for p in &plot.points { (print_point(p, at(p.t_unix_ms as f64), y)) }
        @for step in &plot.steps {
            @let x = percent(at(step.t_unix_ms as f64));
            line.step x1=(x) x2=(x) y1="0" y2=(short(HEIGHT)) {}
            text.step x=(x) y="12" dx="5" { (words::clean(&step.label)) }
        }
    };
    let labels: Vec<(f64, String)> = time_axis::ticks(from, to, zone, 5)
        .into_iter()
        .map(|t| (at(t.t_unix_ms as f64), t.label))
        .collect();
    let title = frame::axis_title(&plot.y_label, shown.symbol);
    let label = format!(
        "{title}: {} observations and their trend",
        plot.points.len()
    );
    let drawing = html! {
        p.axis { (title) }
        (legend("trend"))
        (frame::row(&axis, HEIGHT, &label, &stretched, &overlay))
        (frame::x_strip(&labels))
    };
    let caption = html! { (words::clean(&plot.caption)) };
    frame::figure(
        &plot.id,
        &plot.title,
        &caption,
        &drawing,
        &table(plot, zone),
        units,
    )
}

/// A dot with its interval.
fn print_point(p: &ScatterPoint, at: f64, y: impl Fn(f64) -> f64) -> Markup {
    let x = percent(at);
    html! {
        @if p.low.is_some() || p.high.is_some() {
            line.whisker x1=(x) x2=(x) y1=(short(y(p.low.unwrap_or(p.y)))) y2=(short(y(p.high.unwrap_or(p.y)))) {}
        }
        circle.point cx=(x) cy=(short(y(p.y))) r="3" {}
    }
}

fn table(plot: &TrendPlot, zone: &TimeZone) -> Table {
    let columns = vec![
        Column::text("when"),
        Column::number(&plot.y_label, plot.unit),
    ];
    let shown = plot.points.len().min(TABLE_ROWS);
    let caption = if shown < plot.points.len() {
        format!("The last {shown} of {} observations", plot.points.len())
    } else {
        "Every observation".to_string()
    };
    let mut table = Table::new("behind", &caption, columns);
    for p in &plot.points[plot.points.len() - shown..] {
        let when = WallTime::from_unix_ms(p.t_unix_ms, zone);
        table.rows.push(vec![
            when.map_or_else(|| Cell::missing("no such time"), Cell::WallTime),
            value(p, plot.unit).into(),
        ]);
    }
    table
}

fn value(p: &ScatterPoint, unit: Unit) -> Measured {
    match (p.low, p.high) {
        (None, None) => Measured::exact(p.y, unit),
        (low, high) => Measured::estimate(
            p.y,
            low.unwrap_or(f64::NEG_INFINITY),
            high.unwrap_or(f64::INFINITY),
            unit,
        ),
    }
}
