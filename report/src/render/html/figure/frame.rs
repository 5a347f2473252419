//! What every plot shares: axis strips, grid lines, caption, table behind.

use maud::{Markup, html};

use crate::model::{Label, Table};
use crate::render::axis::{Axis, Tick};
use crate::render::html::{anchor, table};
use crate::render::units::DisplayUnits;
use crate::render::words;

/// Width of every stretched drawing, in its own units.
pub(super) const WIDTH: f64 = 1000.0;

/// Height of a plot, px.
pub(super) const HEIGHT: f64 = 190.0;

/// Height of a residual panel, px.
pub(super) const LOW_HEIGHT: f64 = 90.0;

/// A number with at most one decimal, short.
pub(super) fn short(value: f64) -> String {
    let text = format!("{value:.1}");
    match text.strip_suffix(".0") {
        Some("-0") => "0".to_string(),
        Some(whole) => whole.to_string(),
        None => text,
    }
}

/// Position from 0 to 1 as a percentage.
pub(super) fn percent(position: f64) -> String {
    format!("{}%", fine(position * 100.0))
}

/// A number with at most two decimals, short.
pub(super) fn fine(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// Height in px of a value, from the top.
pub(super) fn y_px(axis: &Axis, value: f64, height: f64) -> f64 {
    (1.0 - axis.position(value)) * height
}

/// The strip of value labels left of a plot.
pub(super) fn y_strip(axis: &Axis, height: f64) -> Markup {
    html! {
        svg.y width="52" height=(short(height)) aria-hidden="true" {
            @for tick in &axis.ticks {
                @let y = y_px(axis, tick.at, height).clamp(5.0, height - 5.0);
                text x="47" y=(short(y)) { (tick.label) }
            }
        }
    }
}

/// Horizontal grid lines.
pub(super) fn grid_lines(axis: &Axis, height: f64) -> Markup {
    let d: String = axis
        .ticks
        .iter()
        .map(|t| format!("M0 {}H1000", short(y_px(axis, t.at, height))))
        .collect();
    html! { path.grid d=(d) {} }
}

/// The strip of labels below a plot.
pub(super) fn x_strip(labels: &[(f64, String)]) -> Markup {
    strip(labels, |_| "")
}

/// The same for long labels: every other one only where there is room.
pub(super) fn x_strip_of_long(labels: &[(f64, String)]) -> Markup {
    strip(labels, |i| if i % 2 == 1 { " wide" } else { "" })
}

fn strip(labels: &[(f64, String)], more: fn(usize) -> &'static str) -> Markup {
    html! {
        div.row {
            span.y {}
            svg.x width="100%" height="20" aria-hidden="true" {
                @for (i, (position, label)) in labels.iter().enumerate() {
                    text x=(percent(*position)) y="14" class=(format!("{}{}", anchor_class(*position), more(i))) { (label) }
                }
            }
        }
    }
}

/// Labels at the edges stay inside.
pub(super) fn anchor_class(position: f64) -> &'static str {
    match position {
        p if p < 0.06 => "first",
        p if p > 0.94 => "last",
        _ => "",
    }
}

/// Number ticks as labelled positions.
pub(super) fn number_labels(axis: &Axis) -> Vec<(f64, String)> {
    let label = |t: &Tick| (axis.position(t.at), t.label.clone());
    axis.ticks.iter().map(label).collect()
}

/// `pressure (kPa)`.
pub(super) fn axis_title(label: &Label, symbol: &str) -> String {
    if symbol.is_empty() {
        words::clean(label)
    } else {
        format!("{} ({symbol})", words::clean(label))
    }
}

/// A plot in its frame: title, drawing, caption, table behind it.
pub(super) fn figure(
    id: &str,
    title: &Label,
    caption: &Markup,
    drawing: &Markup,
    behind: &Table,
    units: DisplayUnits,
) -> Markup {
    let id = anchor(id);
    html! {
        figure id=(id) aria-labelledby=(format!("{id}-title")) {
            p.title id=(format!("{id}-title")) { (words::clean(title)) }
            (drawing)
            figcaption { (caption) }
            details {
                summary { "Numbers behind this plot" }
                (table::table(behind, units))
            }
        }
    }
}

/// A stretched drawing with its value strip; `overlay` is not stretched.
pub(super) fn row(
    axis: &Axis,
    height: f64,
    label: &str,
    stretched: &Markup,
    overlay: &Markup,
) -> Markup {
    let px = short(height);
    html! {
        div.row {
            (y_strip(axis, height))
            svg.plot width="100%" height=(px) role="img" aria-label=(label) {
                svg width="100%" height=(px) viewBox=(format!("0 0 {} {px}", short(WIDTH))) preserveAspectRatio="none" {
                    (grid_lines(axis, height))
                    (stretched)
                }
                (overlay)
            }
        }
    }
}
