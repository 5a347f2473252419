//! Channels over time: panels, mark lanes, gaps, zoom.

use std::collections::BTreeMap;

use jiff::tz::TimeZone;
use maud::{Markup, PreEscaped, html};

use crate::model::{
    Cell, Column, Mark, MarkKind, MarkSource, Panel, Table, TimePlot, Trace, Unit, WallTime,
};
use crate::render::axis::Axis;
use crate::render::units::{DisplayUnits, Shown};
use crate::render::{lines, scale, time_axis, words};

use super::frame::{self, HEIGHT, WIDTH, percent, short, y_px};
use super::lanes::lanes;
use super::{Look, data, marker, spoken, style};

/// Rows of the table behind the plot.
const TABLE_ROWS: i64 = 24;

/// Markers along each trace.
const MARKERS: usize = 7;

/// Height of a lane, px.
const LANE: f64 = 10.0;

/// The time axis of one plot.
pub(super) struct TimeAxis {
    from: i64,
    length: f64,
}

impl TimeAxis {
    fn of(plot: &TimePlot) -> TimeAxis {
        TimeAxis {
            from: plot.from_unix_ms,
            length: ((plot.to_unix_ms - plot.from_unix_ms) as f64).max(1.0),
        }
    }

    fn at(&self, t_unix_ms: i64) -> f64 {
        (t_unix_ms - self.from) as f64 / self.length
    }
}

/// The plot with its zoom tools and data.
pub(super) fn figure(plot: &TimePlot, units: DisplayUnits, zone: &TimeZone, look: &Look) -> Markup {
    let broken: Vec<Vec<Trace>> = plot
        .panels
        .iter()
        .map(|p| {
            p.traces
                .iter()
                .map(|t| lines::broken(t, &plot.gaps))
                .collect()
        })
        .collect();
    let span = TimeAxis::of(plot);
    let drawing = html! {
        div.zoom hidden role="group" aria-label="Zoom and move along the time axis" {
            button type="button" data-do="in" { "closer" }
            button type="button" data-do="out" { "wider" }
            button type="button" data-do="left" { "earlier" }
            button type="button" data-do="right" { "later" }
            button type="button" data-do="all" { "all" }
        }
        div.time data-zoom="" {
            @for (panel, traces) in plot.panels.iter().zip(&broken) {
                (print_panel(panel, traces, plot, units, &span, look))
            }
            (frame::x_strip(&time_labels(plot, zone, &span)))
            @for ((kind, place), marks) in lanes(plot) {
                (print_lane(&words::mark(kind, place), kind, &marks, &span))
            }
            @if !plot.gaps.is_empty() { (gap_lane(plot, &span)) }
        }
        p.readout role="status" {}
        script type="application/json" { (PreEscaped(data::embed(plot, &broken, units, zone, look))) }
    };
    frame::figure(
        &plot.id,
        &plot.title,
        &caption(plot),
        &drawing,
        &table(plot, &broken, zone),
        units,
    )
}

fn time_labels(plot: &TimePlot, zone: &TimeZone, span: &TimeAxis) -> Vec<(f64, String)> {
    time_axis::ticks(plot.from_unix_ms, plot.to_unix_ms, zone, 5)
        .into_iter()
        .map(|t| (span.at(t.t_unix_ms), t.label))
        .collect()
}

fn print_panel(
    panel: &Panel,
    traces: &[Trace],
    plot: &TimePlot,
    units: DisplayUnits,
    span: &TimeAxis,
    look: &Look,
) -> Markup {
    let shown = units.shown(panel.unit);
    let values = traces.iter().flat_map(|t| t.values.iter().flatten());
    let axis = Axis::around(values.map(|v| shown.apply(*v)), 5);
    let title = frame::axis_title(&panel.label, shown.symbol);
    let drawn: Vec<Trace> = traces
        .iter()
        .map(|t| t.thinned(look.detail.drawn))
        .collect();
    let stretched = html! {
        path.gap d=(gap_path(plot, span, HEIGHT)) {}
        @for trace in &drawn {
            path.trace.(style(look, &trace.name)) d=(trace_path(trace, &axis, shown, span)) {}
        }
    };
    let overlay = html! {
        @for (i, trace) in drawn.iter().enumerate() {
            g class=(style(look, &trace.name)) { (markers(trace, &marker(look, &trace.name), (i, traces.len()), &axis, shown, span)) }
        }
        @for (i, note) in plot.notes.iter().enumerate() {
            @let x = percent(span.at(note.t_unix_ms));
            line.note x1=(x) x2=(x) y1="0" y2=(short(HEIGHT)) {}
            text.note x=(x) y="12" dx="4" { (i + 1) }
        }
    };
    let label = spoken_of(&title, traces, panel.unit, units);
    html! {
        div.panel {
            p.axis { (title) }
            ul.legend {
                @for trace in traces {
                    li { (sample(look, &trace.name)) (words::place(&trace.name)) }
                }
            }
            (frame::row(&axis, HEIGHT, &label, &stretched, &overlay))
        }
    }
}

/// What every trace does between its first and its last reading.
fn spoken_of(title: &str, traces: &[Trace], unit: Unit, units: DisplayUnits) -> String {
    let told = traces.iter().map(|trace| {
        let mut read = trace.values.iter().flatten();
        let place = words::place(&trace.name);
        match (read.next(), trace.values.iter().flatten().next_back()) {
            (Some(first), Some(last)) => {
                format!("{place} {}", spoken::trend(*first, *last, unit, units))
            }
            _ => format!("{place} has no reading"),
        }
    });
    let told: Vec<String> = told.collect();
    format!(
        "{title} over time: {}; the table below has the numbers",
        told.join(", ")
    )
}

/// A short piece of a trace for the legend.
fn sample(look: &Look, place: &str) -> Markup {
    html! {
        svg width="30" height="12" aria-hidden="true" class=(style(look, place)) {
            path.trace d="M0 6H30" {}
            use href=(marker(look, place)) x="15" y="6" {}
        }
    }
}

/// The line, lifted off the paper at every silence.
fn trace_path(trace: &Trace, axis: &Axis, shown: Shown, span: &TimeAxis) -> String {
    let mut d = String::new();
    let mut pen_down = false;
    for (&t, value) in trace.t_unix_ms.iter().zip(&trace.values) {
        let Some(value) = value else {
            pen_down = false;
            continue;
        };
        let x = short(span.at(t) * WIDTH);
        let y = short(y_px(axis, shown.apply(*value), HEIGHT));
        if pen_down {
            d.push_str(&format!("L{x} {y}"));
        } else {
            // A reading alone between two silences still shows as a dot.
            d.push_str(&format!("M{x} {y}h0"));
        }
        pen_down = true;
    }
    d
}

/// A few markers along the line, each trace at its own places.
fn markers(
    trace: &Trace,
    marker: &str,
    (index, of): (usize, usize),
    axis: &Axis,
    shown: Shown,
    span: &TimeAxis,
) -> Markup {
    let places = (0..MARKERS).filter_map(|k| {
        let wanted = (k as f64 + (index as f64 + 0.5) / of as f64) / MARKERS as f64;
        let t = span.from + (wanted * span.length) as i64;
        let i = trace.t_unix_ms.partition_point(|&x| x < t);
        let value = (*trace.values.get(i)?)?;
        let at = span.at(*trace.t_unix_ms.get(i)?);
        ((at - wanted).abs() < 0.02).then(|| (at, y_px(axis, shown.apply(value), HEIGHT)))
    });
    html! {
        @for (at, y) in places { use href=(marker) x=(percent(at)) y=(short(y)) {} }
    }
}

/// Spans as closed boxes from the top to `height`; those closer than a tenth
/// of a drawing unit are joined.
fn boxes(spans: impl Iterator<Item = (f64, f64)>, height: f64) -> String {
    let mut joined: Vec<(f64, f64)> = Vec::new();
    for (from, to) in spans {
        let (from, to) = (from.clamp(0.0, 1.0) * WIDTH, to.clamp(0.0, 1.0) * WIDTH);
        match joined.last_mut() {
            Some(last) if from <= last.1 + 0.1 => last.1 = last.1.max(to),
            _ => joined.push((from, to)),
        }
    }
    let height = short(height);
    joined
        .into_iter()
        .map(|(from, to)| {
            let width = short((to - from).max(1.0));
            format!("M{} 0h{width}v{height}h-{width}z", short(from))
        })
        .collect()
}

fn gap_path(plot: &TimePlot, span: &TimeAxis, height: f64) -> String {
    let spans = plot.gaps.iter();
    boxes(
        spans.map(|g| (span.at(g.from_unix_ms), span.at(g.to_unix_ms))),
        height,
    )
}

/// A lane: wired marks filled, inferred ones outlined.
fn print_lane(name: &str, kind: MarkKind, marks: &[&Mark], span: &TimeAxis) -> Markup {
    let of = |source: MarkSource| {
        let mut spans: Vec<(f64, f64)> = marks
            .iter()
            .filter(|m| m.source == source)
            .map(|m| (span.at(m.from_unix_ms), span.at(m.to_unix_ms)))
            .collect();
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        boxes(spans.into_iter(), LANE)
    };
    let inferred = marks
        .iter()
        .filter(|m| m.source == MarkSource::Inferred)
        .count();
    let label = format!(
        "{name}: {}, {inferred} of them worked out from the pressures",
        words::times(marks.len())
    );
    html! {
        div.row.lane {
            span.y { (name) }
            svg.lane.(kind.word()) width="100%" height=(short(LANE)) role="img" aria-label=(label)
                viewBox=(format!("0 0 {} {}", short(WIDTH), short(LANE))) preserveAspectRatio="none" {
                path.wired d=(of(MarkSource::Wired)) {}
                path.inferred d=(of(MarkSource::Inferred)) {}
            }
        }
    }
}

fn gap_lane(plot: &TimePlot, span: &TimeAxis) -> Markup {
    let label = format!("no data: {} gaps, listed under the plot", plot.gaps.len());
    html! {
        div.row.lane {
            span.y { "no data" }
            svg.lane.none width="100%" height=(short(LANE)) role="img" aria-label=(label)
                viewBox=(format!("0 0 {} {}", short(WIDTH), short(LANE))) preserveAspectRatio="none" {
                path.gap d=(gap_path(plot, span, LANE)) {}
            }
        }
    }
}

/// What to look for, how it was thinned, and why data is missing.
fn caption(plot: &TimePlot) -> Markup {
    let mut causes: BTreeMap<String, (usize, i64)> = BTreeMap::new();
    for gap in &plot.gaps {
        let entry = causes.entry(words::clean(&gap.cause)).or_default();
        *entry = (entry.0 + 1, entry.1 + gap.to_unix_ms - gap.from_unix_ms);
    }
    html! {
        (words::clean(&plot.caption))
        " Long traces are thinned: each span of time keeps its first, lowest, highest and last reading, so no peak is lost and none is invented."
        @if !causes.is_empty() {
            " Lines stop where nothing was recorded:"
            @for (i, (cause, (count, total_ms))) in causes.iter().enumerate() {
                (if i == 0 { " " } else { "; " }) (cause) ", " (words::times(*count)) ", "
                (scale::duration(*total_ms as f64 / 1000.0)) " in all"
            }
            "."
        }
        @for (i, note) in plot.notes.iter().enumerate() {
            " Note " (i + 1) ": " (words::clean(&note.label)) "."
        }
        @if plot.marks.iter().any(|m| m.source == MarkSource::Inferred) {
            " Outlined marks were worked out from the pressures, filled ones were recorded."
        }
    }
}

/// Lowest and highest reading of each trace in two dozen spans.
fn table(plot: &TimePlot, broken: &[Vec<Trace>], zone: &TimeZone) -> Table {
    let mut columns = vec![Column::text("from")];
    for (panel, traces) in plot.panels.iter().zip(broken) {
        for trace in traces {
            let name = words::place(&trace.name);
            columns.push(Column::number(format!("{name} lowest"), panel.unit));
            columns.push(Column::number(format!("{name} highest"), panel.unit));
        }
    }
    let mut table = Table::new("behind", "Lowest and highest reading in each span", columns);
    let step = ((plot.to_unix_ms - plot.from_unix_ms) / TABLE_ROWS).max(1);
    for row in 0..TABLE_ROWS {
        let from = plot.from_unix_ms + row * step;
        let start = WallTime::from_unix_ms(from, zone);
        let mut cells = vec![start.map_or_else(|| Cell::missing("no such time"), Cell::WallTime)];
        for (panel, traces) in plot.panels.iter().zip(broken) {
            for trace in traces {
                cells.extend(data::extremes(trace, from, from + step, panel.unit));
            }
        }
        table.rows.push(cells);
    }
    table
}
