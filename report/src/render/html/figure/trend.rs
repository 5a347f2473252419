//! A quantity per move or run over days, with its trend and its steps.

use jiff::tz::TimeZone;
use maud::{Markup, html};

use crate::model::{Cell, Column, Measured, ScatterPoint, Table, TrendPlot, Unit, WallTime};
use crate::render::axis::Axis;
use crate::render::units::DisplayUnits;
use crate::render::{time_axis, words};

use super::fit::{band, curve, legend};
use super::frame::{self, HEIGHT, percent, short, y_px};
use super::spoken;

/// Rows of the table behind the plot.
const TABLE_ROWS: usize = 200;

/// Spans of time of which a crowded plot keeps the lowest and the highest point.
const SPANS: usize = 150;

/// The plot.
pub(super) fn figure(plot: &TrendPlot, units: DisplayUnits, zone: &TimeZone) -> Markup {
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
        @for p in thinned(&plot.points) { (print_point(p, at(p.t_unix_ms as f64), y)) }
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
    let does = match (plot.trend.first(), plot.trend.last()) {
        (Some(first), Some(last)) => spoken::trend(first.y, last.y, plot.unit, units),
        _ => "no trend is drawn".into(),
    };
    let label = format!(
        "{title}: {} observations; their trend: {does}",
        plot.points.len()
    );
    let drawing = html! {
        p.axis { (title) }
        (legend("trend"))
        (frame::row(&axis, HEIGHT, &label, &stretched, &overlay))
        (frame::x_strip(&labels))
    };
    let caption = html! {
        (words::clean(&plot.caption))
        @if plot.points.len() > 2 * SPANS {
            " Thinned for drawing: each span of time keeps its lowest and its highest point."
        }
    };
    frame::figure(
        &plot.id,
        &plot.title,
        &caption,
        &drawing,
        &table(plot, zone),
        units,
    )
}

/// Points to draw: all of a few, else the lowest and the highest of each span
/// of time, so that a report with thousands of moves stays small and no
/// outlier is lost.
fn thinned(points: &[ScatterPoint]) -> Vec<&ScatterPoint> {
    if points.len() <= 2 * SPANS {
        return points.iter().collect();
    }
    let times = points.iter().map(|p| p.t_unix_ms);
    let (from, to) = (
        times.clone().min().unwrap_or(0),
        times.max().unwrap_or(0).saturating_add(1),
    );
    let span_of =
        |p: &ScatterPoint| (i128::from(p.t_unix_ms - from) * SPANS as i128) / i128::from(to - from);
    points
        .chunk_by(|a, b| span_of(a) == span_of(b))
        .flat_map(|part| {
            let low = (0..part.len()).min_by(|&a, &b| part[a].y.total_cmp(&part[b].y));
            let high = (0..part.len()).max_by(|&a, &b| part[a].y.total_cmp(&part[b].y));
            let mut kept: Vec<usize> = low.into_iter().chain(high).collect();
            kept.sort_unstable();
            kept.dedup();
            kept.into_iter().map(|i| &part[i])
        })
        .collect()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_crowd_is_thinned_and_keeps_its_outliers() {
        let point = |i: i64, y: f64| ScatterPoint {
            t_unix_ms: i * 1000,
            y,
            low: None,
            high: None,
        };
        let mut all: Vec<ScatterPoint> = (0..20_000)
            .map(|i| point(i, 1.0 + (i % 7) as f64))
            .collect();
        all[777].y = -5.0;
        all[15_432].y = 50.0;
        let kept = thinned(&all);
        assert!(kept.len() <= 2 * SPANS, "{}", kept.len());
        assert!(kept.iter().any(|p| p.y < -4.0) && kept.iter().any(|p| p.y > 49.0));
        assert!(kept.is_sorted_by_key(|p| p.t_unix_ms));
        assert_eq!(thinned(&all[..300]).len(), 300, "a few stay as they are");
    }
}
