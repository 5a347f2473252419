//! Bars over categories, with intervals, coverage and lines to compare with.

use maud::{Markup, html};

use crate::model::{Bar, BarPlot, Cell, Column, Measured, Table, Unit};
use crate::render::axis::Axis;
use crate::render::units::DisplayUnits;
use crate::render::{number, words};

use super::frame::{self, HEIGHT, percent, short, y_px};

/// Labels that fit below on a wide page; a phone shows every other one.
const MOST_LABELS: usize = 8;

/// What the bars say: which is highest.
fn spoken(plot: &BarPlot, title: &str, units: DisplayUnits) -> String {
    let known = plot
        .bars
        .iter()
        .filter_map(|b| Some((b, b.value.as_ref()?)));
    let highest = known.max_by(|a, b| a.1.value.total_cmp(&b.1.value));
    let highest = highest.map_or_else(
        || "nothing recorded".into(),
        |(bar, m)| {
            format!(
                "highest {} at {}",
                number::phrase(m, units),
                words::clean(&bar.label)
            )
        },
    );
    format!("{title} by {}: {highest}", words::clean(&plot.x_label))
}

/// The plot.
pub(super) fn figure(plot: &BarPlot, units: DisplayUnits) -> Markup {
    let shown = units.shown(plot.unit);
    let values = plot.bars.iter().filter_map(|b| b.value.as_ref());
    let values = values
        .flat_map(|m| [Some(m.value), m.low, m.high])
        .flatten();
    let values = values.chain(plot.references.iter().map(|r| r.value));
    let (low, high) = values
        .map(|v| shown.apply(v))
        .filter(|v| v.is_finite())
        .fold((0.0f64, 0.0f64), |(lo, hi), v| (lo.min(v), hi.max(v)));
    let axis = Axis::between(low * 1.05, (high * 1.08).max(low + 1e-9), 5);
    let count = plot.bars.len().max(1);
    let y = |v: f64| y_px(&axis, shown.apply(v), HEIGHT);
    let overlay = html! {
        @for (i, bar) in plot.bars.iter().enumerate() { (print_bar(bar, i, count, y, y_px(&axis, 0.0, HEIGHT))) }
        @for reference in &plot.references {
            line.reference x1="0" x2="100%" y1=(short(y(reference.value))) y2=(short(y(reference.value))) {}
            text.reference x="100%" y=(short(y(reference.value) - 4.0)) { (words::clean(&reference.label)) }
        }
    };
    let every = count.div_ceil(MOST_LABELS);
    let labels: Vec<(f64, String)> = plot
        .bars
        .iter()
        .enumerate()
        .filter(|(i, _)| i % every == 0)
        .map(|(i, b)| ((i as f64 + 0.5) / count as f64, words::clean(&b.label)))
        .collect();
    let title = frame::axis_title(&plot.y_label, shown.symbol);
    let drawing = html! {
        p.axis { (title) }
        (frame::row(&axis, HEIGHT, &spoken(plot, &title, units), &html! {}, &overlay))
        (frame::x_strip_of_long(&labels))
        p.axis.below { (words::clean(&plot.x_label)) }
    };
    let hatched = plot.bars.iter().any(|b| b.value.is_none());
    let pale = plot
        .bars
        .iter()
        .any(|b| b.value.is_some() && b.coverage < 0.995);
    let caption = html! {
        (words::clean(&plot.caption))
        @if pale { " Outlined bars rest on less than the whole time." }
        @if hatched { " Hatched: nothing recorded." }
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

/// A bar with its interval; hatched from top to bottom when there is none.
fn print_bar(bar: &Bar, index: usize, count: usize, y: impl Fn(f64) -> f64, zero: f64) -> Markup {
    let width = 0.76 / count as f64;
    let left = (index as f64 + 0.12) / count as f64;
    let middle = percent((index as f64 + 0.5) / count as f64);
    let Some(m) = &bar.value else {
        return html! { rect.gap x=(percent(left)) width=(percent(width)) y="0" height=(short(HEIGHT)) {} };
    };
    let class = if bar.coverage < 0.995 {
        "bar part"
    } else {
        "bar"
    };
    let top = y(m.value).min(zero);
    let height = (y(m.value) - zero).abs();
    html! {
        rect class=(class) x=(percent(left)) width=(percent(width)) y=(short(top)) height=(short(height)) {}
        @if let (Some(low), Some(high)) = (m.low, m.high) {
            line.whisker x1=(middle) x2=(middle) y1=(short(y(low))) y2=(short(y(high))) {}
        }
    }
}

fn table(plot: &BarPlot) -> Table {
    let columns = vec![
        Column::text(&plot.x_label),
        Column::number(&plot.y_label, plot.unit),
        Column::number("recorded", Unit::Percent),
    ];
    let mut table = Table::new("behind", "Every bar", columns);
    for bar in &plot.bars {
        table.rows.push(vec![
            (&bar.label).into(),
            Cell::number_or(bar.value, "nothing recorded"),
            Measured::exact(bar.coverage * 100.0, Unit::Percent).into(),
        ]);
    }
    table
}
