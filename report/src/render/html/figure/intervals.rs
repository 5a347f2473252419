//! Labelled rows with intervals on one scale.
//!
//! Each row is a line of text above its strip, so that a long label has the whole width
//! of a phone.

use maud::{Markup, html};

use crate::model::{Cell, Column, IntervalPlot, IntervalRow, Measured, Table};
use crate::render::axis::Axis;
use crate::render::units::{DisplayUnits, Shown};
use crate::render::{number, words};

use super::frame::{self, percent};

/// Height of a row's strip, px.
const STRIP: &str = "18";

/// Middle of the strip, px.
const MIDDLE: &str = "9";

/// The plot.
pub(super) fn figure(plot: &IntervalPlot, units: DisplayUnits) -> Markup {
    let shown = units.shown(plot.unit);
    let axis = axis_of(plot, shown);
    let drawing = html! {
        p.axis { (frame::axis_title(&plot.x_label, shown.symbol)) }
        (legend(plot))
        @for row in &plot.rows {
            p.interval { (words::clean(&row.label)) " " span { (words::clean(&row.remark)) } }
            (strip(row, &axis, plot, units))
        }
        svg.x width="100%" height="20" aria-hidden="true" {
            @for (position, label) in frame::number_labels(&axis) {
                text x=(percent(position)) y="14" class=(frame::anchor_class(position)) { (label) }
            }
        }
    };
    let caption = html! {
        (words::clean(&plot.caption))
        @if plot.cuts_an_interval() { " A line that reaches the edge goes on beyond it." }
    };
    frame::figure(
        &plot.id,
        &plot.title,
        &caption,
        &drawing,
        &table(plot),
        units,
    )
}

/// The scale in the reader's unit, with a margin for the marks at its ends.
fn axis_of(plot: &IntervalPlot, shown: Shown) -> Axis {
    let (low, high) = plot.range();
    Axis::around([shown.apply(low), shown.apply(high)], 5)
}

fn strip(row: &IntervalRow, axis: &Axis, plot: &IntervalPlot, units: DisplayUnits) -> Markup {
    let shown = units.shown(plot.unit);
    let at = |v: f64| percent(axis.position(shown.apply(v)).clamp(0.0, 1.0));
    html! {
        svg.strip width="100%" height=(STRIP) role="img" aria-label=(spoken(row, plot, units)) {
            @for tick in &axis.ticks {
                @let x = percent(axis.position(tick.at));
                line.grid x1=(x) x2=(x) y1="0" y2=(STRIP) {}
            }
            @for other in &row.others { circle.other cx=(at(*other)) cy=(MIDDLE) r="3" {} }
            @if let Some(before) = &row.before { (mark(before, "before", &at)) }
            @if let Some(value) = &row.value { (mark(value, "now", &at)) }
            @if let Some(limit) = row.limit {
                line.limit x1=(at(limit)) x2=(at(limit)) y1="0" y2=(STRIP) {}
            }
        }
    }
}

/// A dot with its interval; a bound is open on its other side.
fn mark(value: &Measured, class: &str, at: &impl Fn(f64) -> String) -> Markup {
    let low = at(value.low.unwrap_or(f64::MIN));
    let high = at(value.high.unwrap_or(f64::MAX));
    html! {
        g class=(class) {
            line.whisker x1=(low) x2=(high) y1=(MIDDLE) y2=(MIDDLE) {}
            circle.point cx=(at(value.value)) cy=(MIDDLE) r="4" {}
        }
    }
}

fn legend(plot: &IntervalPlot) -> Markup {
    let has = |f: fn(&IntervalRow) -> bool| plot.rows.iter().any(f);
    let (before, limit) = (has(|r| r.before.is_some()), has(|r| r.limit.is_some()));
    html! {
        ul.legend {
            li { (key(html! { g.now { line.whisker x1="0" x2="30" y1="6" y2="6" {} circle.point cx="15" cy="6" r="4" {} } }))
                @if before { "now, with its 95 % interval" } @else { "value, with its 95 % interval" } }
            @if before {
                li { (key(html! { g.before { line.whisker x1="0" x2="30" y1="6" y2="6" {} circle.point cx="15" cy="6" r="4" {} } })) "before" }
            }
            @if limit { li { (key(html! { line.limit x1="15" x2="15" y1="0" y2="12" {} })) "limit" } }
            @if has(|r| !r.others.is_empty()) {
                li { (key(html! { circle.other cx="15" cy="6" r="3" {} })) "its other places" }
            }
        }
    }
}

fn key(shape: Markup) -> Markup {
    html! { svg width="30" height="12" aria-hidden="true" { (shape) } }
}

/// The row for those who hear the page.
fn spoken(row: &IntervalRow, plot: &IntervalPlot, units: DisplayUnits) -> String {
    let mut parts = vec![words::clean(&row.label)];
    match &row.value {
        Some(value) => parts.push(number::phrase(value, units)),
        None => parts.push("no value".into()),
    }
    if let Some(before) = &row.before {
        parts.push(format!("before {}", number::phrase(before, units)));
    }
    if let Some(limit) = row.limit {
        let limit = Measured::exact(limit, plot.unit);
        parts.push(format!("limit {}", number::phrase(&limit, units)));
    }
    if !row.remark.is_empty() {
        parts.push(words::clean(&row.remark));
    }
    parts.join(", ")
}

fn table(plot: &IntervalPlot) -> Table {
    let has = |f: fn(&IntervalRow) -> bool| plot.rows.iter().any(f);
    let (before, limit) = (has(|r| r.before.is_some()), has(|r| r.limit.is_some()));
    let mut columns = vec![
        Column::text("row"),
        Column::number(&plot.x_label, plot.unit),
    ];
    if before {
        columns.push(Column::number("before", plot.unit));
    }
    if limit {
        columns.push(Column::number("limit", plot.unit));
    }
    columns.push(Column::text("outcome"));
    let mut table = Table::new("behind", "Every row", columns);
    for row in &plot.rows {
        let mut cells = vec![Cell::from(&row.label), Cell::number_or(row.value, "none")];
        if before {
            cells.push(Cell::number_or(row.before, "none"));
        }
        if limit {
            let limit = row.limit.map(|l| Measured::exact(l, plot.unit));
            cells.push(Cell::number_or(limit, "none"));
        }
        cells.push(Cell::from(&row.remark));
        table.rows.push(cells);
    }
    table
}
