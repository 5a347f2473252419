//! Plots as inline SVG.
//!
//! Every plot keeps its text at reading size on any screen: labels stand in
//! drawings of fixed size, curves in a stretched drawing whose strokes do not
//! stretch, and markers are placed by percentages.

mod bars;
mod data;
mod fit;
mod frame;
mod intervals;
mod lanes;
mod over_time;
mod spoken;
mod trend;

use jiff::tz::TimeZone;
use maud::{Markup, html};

use crate::model::Plot;
use crate::render::place_style::PlaceStyles;
use crate::render::units::DisplayUnits;

/// How finely traces are drawn, so that a long report stays small.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Detail {
    /// Spans of time per trace in the drawing itself.
    drawn: usize,
    /// Spans of time per trace in the data for zooming.
    kept: usize,
}

impl Detail {
    /// Share a fixed number of points among all traces of the report.
    pub(super) fn for_traces(count: usize) -> Detail {
        let share =
            |total: usize, least: usize, most: usize| (total / count.max(1)).clamp(least, most);
        Detail {
            drawn: share(4_500, 40, 500),
            kept: share(16_000, 80, 4_000),
        }
    }
}

/// How the figures of one report are drawn.
#[derive(Debug)]
pub(super) struct Look {
    /// How finely.
    pub(super) detail: Detail,
    /// Colour and marker of each place.
    pub(super) styles: PlaceStyles,
}

/// Plots of a section, one below the other; trends stand in pairs where there
/// is room.
pub(super) fn figures(plots: &[Plot], units: DisplayUnits, zone: &TimeZone, look: &Look) -> Markup {
    let is_trend = |p: &Plot| matches!(p, Plot::Trend(_));
    html! {
        @for group in plots.chunk_by(|a, b| is_trend(a) && is_trend(b)) {
            @if group.len() > 1 {
                div.pairs { @for plot in group { (figure(plot, units, zone, look)) } }
            } @else {
                @for plot in group { (figure(plot, units, zone, look)) }
            }
        }
    }
}

/// One plot.
fn figure(plot: &Plot, units: DisplayUnits, zone: &TimeZone, look: &Look) -> Markup {
    match plot {
        Plot::Time(p) => over_time::figure(p, units, zone, look),
        Plot::Fit(p) => fit::figure(p, units, look),
        Plot::Bars(p) => bars::figure(p, units),
        Plot::Trend(p) => trend::figure(p, units, zone),
        Plot::Intervals(p) => intervals::figure(p, units),
    }
}

/// Class of a place: its colour and marker.
fn style(look: &Look, place: &str) -> String {
    format!("t{}", look.styles.index(place))
}

/// Reference to the marker of a place.
fn marker(look: &Look, place: &str) -> String {
    format!("#m{}", look.styles.index(place))
}

/// Markers and the hatching of gaps, drawn once and used by every plot.
pub(super) fn shared_shapes() -> Markup {
    let shapes = [
        "M-3.5 0a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0z",
        "M-3 -3h6v6h-6z",
        "M0 -4L4 3h-8z",
        "M0 -4.5L4 0L0 4.5L-4 0z",
        "M0 4L4 -3h-8z",
        "M-4 -1.2h2.8v-2.8h2.4v2.8h2.8v2.4h-2.8v2.8h-2.4v-2.8h-2.8z",
        "M-4 0L0 -1.5L4 0L0 1.5zM0 -4L1.5 0L0 4L-1.5 0z",
        "M-4 -1.5h8v3h-8z",
    ];
    html! {
        svg.shapes width="0" height="0" aria-hidden="true" {
            defs {
                pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" {
                    path.hatch d="M-2 2l4 -4M0 8l8 -8M6 10l4 -4" {}
                }
                @for (i, d) in shapes.iter().enumerate() {
                    path id=(format!("m{i}")) d=(d) {}
                }
            }
        }
    }
}
