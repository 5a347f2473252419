//! Tank pressure at the ends of a compressor's runs, from one session.

use crate::analysis::delivery::OutsideSeries;
use crate::analysis::duty::{Edge, SwitchedRun};
use crate::analysis::moves::Series;
use crate::analysis::segment::OnSpan;
use seep_common::channel::Quantity;
use seep_common::rig::Rig;
use seep_common::store::Columns;

/// A tank reading further from the switch than this tells nothing about it, ms.
const REACH_MS: i64 = 15_000;

/// Runs of which both ends were seen. `tank` is its pressure as the sensor reads it,
/// whether that is gauge, and the outside; it holds no reading where the rig has no
/// tank pressure.
pub(super) fn switched_runs(
    frame: &Columns,
    rig: &Rig,
    place: &str,
    spans: &[OnSpan],
    tank: (Series, bool, OutsideSeries),
) -> Vec<SwitchedRun> {
    let (tank_kpa, is_gauge, outside) = tank;
    // Which outside pressure an absolute reading stood against, only a barometer says;
    // without one the usual pressure of the place must do.
    let gauge = |edge: Option<Edge>, t_ms: i64| {
        let offset = if is_gauge { 0.0 } else { outside.kpa_abs(t_ms) };
        edge.map(|e| Edge {
            kpa_gauge: e.kpa_gauge - offset,
            ..e
        })
    };
    let source = SourceTimes::new(frame, rig, place);
    spans
        .iter()
        .filter(|s| s.start_seen && s.end_seen)
        .map(|s| SwitchedRun {
            from_ms: s.from_ms,
            to_ms: s.to_ms,
            silence_s: source.silence_s(s.from_ms).max(source.silence_s(s.to_ms)),
            start: gauge(before(tank_kpa, s.from_ms), s.from_ms),
            stop: gauge(after(tank_kpa, s.to_ms), s.to_ms),
        })
        .collect()
}

/// The last two readings up to a start.
fn before(series: Series, t_ms: i64) -> Option<Edge> {
    let (t, values) = series.window(t_ms - 2 * REACH_MS, t_ms + 1);
    let last = t.len().checked_sub(2)?;
    edge(t_ms - t[last + 1], values[last + 1], values[last])
}

/// The first two readings from a stop on.
fn after(series: Series, t_ms: i64) -> Option<Edge> {
    let (t, values) = series.window(t_ms, t_ms + 2 * REACH_MS);
    edge(*t.first()? - t_ms, *values.first()?, *values.get(1)?)
}

fn edge(away_ms: i64, kpa_gauge: f64, next: f64) -> Option<Edge> {
    (away_ms <= REACH_MS).then(|| Edge {
        kpa_gauge,
        step_kpa: (next - kpa_gauge).abs(),
    })
}

/// When the source that tells a compressor's state said anything.
struct SourceTimes<'a> {
    t_ms: &'a [i64],
    columns: Vec<&'a [f32]>,
}

impl<'a> SourceTimes<'a> {
    fn new(frame: &'a Columns, rig: &Rig, place: &str) -> Self {
        let source = rig.channel_at(place, Quantity::Running).map(|c| c.source);
        SourceTimes {
            t_ms: &frame.t_ms,
            columns: rig
                .channels
                .iter()
                .filter(|c| Some(c.source) == source)
                .filter_map(|c| frame.column(&c.name))
                .collect(),
        }
    }

    /// How long the source had been silent at its word of `t_ms`, s.
    fn silence_s(&self, t_ms: i64) -> f64 {
        let now = self.t_ms.partition_point(|t| *t < t_ms);
        let spoke = |i: &usize| self.columns.iter().any(|c| !c[*i].is_nan());
        let last_ms = (0..now).rev().find(spoke).map_or(t_ms, |i| self.t_ms[i]);
        (t_ms - last_ms) as f64 / 1000.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Falls 1 kPa in each 10 s, rises from 800 to 1000 in one run, falls again.
    #[test]
    fn the_quiet_side_of_each_switch_is_read() {
        let t = [0, 10_000, 20_000, 30_000, 40_000, 50_000];
        let kpa = [801.0, 800.0, 900.0, 1000.0, 999.0, 998.0];
        let series = Series::new(&t, &kpa, 0.0);
        let start = before(series, 12_000).expect("two readings before");
        assert_eq!((start.kpa_gauge, start.step_kpa), (800.0, 1.0));
        let stop = after(series, 30_000).expect("two readings after");
        assert_eq!((stop.kpa_gauge, stop.step_kpa), (1000.0, 1.0));
        assert_eq!(before(series, 0), None, "one reading only");
        assert_eq!(after(series, 60_000), None, "silent");
        assert_eq!(before(series, 70_000), None, "too long ago");
    }
}
