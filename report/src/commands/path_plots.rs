//! Conductance of a path over time, move by move.

use crate::analysis::moves::{Move, MoveTrend};
use crate::digest::Digest;
use crate::findings::place_words;
use crate::judgement::Judgement;
use crate::model::{CurvePoint, Plot, ScatterPoint, TrendPlot, Unit};
use crate::recording::Recording;

/// Conductance over time of the paths that a finding names.
pub(super) fn slow_plots(
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
) -> Vec<Plot> {
    let slow = |path: &&MoveTrend| {
        let mut trends = judgement.slow_paths.iter().flat_map(|f| &f.trends);
        trends.any(|t| t.place == path.place && t.direction == path.direction)
    };
    let slow = judgement.paths.iter().filter(slow);
    slow.filter_map(|path| plot(recording, digest, path))
        .collect()
}

/// Every move of a path with its trend; `None` with fewer than six.
pub(super) fn plot(recording: &Recording, digest: &Digest, path: &MoveTrend) -> Option<Plot> {
    let own: Vec<&Move> = digest
        .moves
        .iter()
        .filter(|m| m.place == path.place && m.direction == path.direction)
        .collect();
    let points: Vec<ScatterPoint> = own
        .iter()
        .filter_map(|m| {
            Some(ScatterPoint {
                t_unix_ms: recording.clock.wall_ms(m.from_ms)?,
                y: m.conductance,
                low: Some(m.conductance - 2.0 * m.conductance_se),
                high: Some(m.conductance + 2.0 * m.conductance_se),
            })
        })
        .collect();
    if points.len() < 6 {
        return None;
    }
    let name = format!("{} {}", place_words(&path.place), path.direction.word());
    Some(Plot::Trend(TrendPlot {
        id: plot_id(path),
        title: format!("Conductance of {name}").into(),
        caption:
            "Each point is one move, with its 95 % interval; the line is the trend (Theil–Sen: the \
                  middle one of all slopes) with its 95 % band."
                .into(),
        y_label: "conductance".into(),
        unit: Unit::SonicConductance,
        trend: trend_line(path, &points),
        points,
        steps: Vec::new(),
    }))
}

fn plot_id(path: &MoveTrend) -> String {
    format!("path-{}-{}", path.place, path.direction.word())
}

fn trend_line(path: &MoveTrend, points: &[ScatterPoint]) -> Vec<CurvePoint> {
    let (Some((drift, low, high)), Some(first), Some(last)) =
        (path.drift_percent_per_day, points.first(), points.last())
    else {
        return Vec::new();
    };
    let middle = f64::midpoint(first.t_unix_ms as f64, last.t_unix_ms as f64);
    let at = |t: f64, percent: f64| {
        path.median_conductance * (1.0 + percent / 100.0).powf((t - middle) / 86_400_000.0)
    };
    [first.t_unix_ms, last.t_unix_ms]
        .into_iter()
        .map(|t| {
            let t = t as f64;
            let (a, b) = (at(t, low), at(t, high));
            CurvePoint {
                x: t,
                y: at(t, drift),
                low: a.min(b),
                high: a.max(b),
            }
        })
        .collect()
}
