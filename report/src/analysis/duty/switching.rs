//! Where and how often a compressor is switched: tank pressure at the start and
//! at the stop of its runs, length of runs and cycles.

use super::Timeline;
use crate::analysis::stats::{median, median_interval};
use serde::{Deserialize, Serialize};

/// Tank pressure at one end of a run.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Edge {
    /// Pressure, kPa gauge, from the reading nearest to the switch on its quiet
    /// side: the last one before the start, the first one after the stop.
    pub kpa_gauge: f64,
    /// How far the pressure moves from that reading to the next on the same
    /// side, kPa: the switch acted somewhere between two readings.
    pub step_kpa: f64,
}

/// One run of which both ends were seen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SwitchedRun {
    /// Start, log time ms.
    pub from_ms: i64,
    /// Stop, log time ms.
    pub to_ms: i64,
    /// Longest silence of the source before the two ends, s: each of them may be
    /// that much earlier than its first word.
    pub silence_s: f64,
    /// Tank pressure at the start; `None` when the tank was silent.
    pub start: Option<Edge>,
    /// Tank pressure at the stop; `None` when the tank was silent.
    pub stop: Option<Edge>,
}

/// A median over runs, with what lies around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Typical {
    /// Median.
    pub median: f64,
    /// Lower end of its 95 % interval, −∞ with a single run.
    pub low: f64,
    /// Upper end of its 95 % interval, ∞ with a single run.
    pub high: f64,
    /// Lowest value.
    pub lowest: f64,
    /// Highest value.
    pub highest: f64,
    /// Values behind it.
    pub count: usize,
}

/// Switching of one compressor over the recording.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Switching {
    /// Runs with both ends seen, in time order.
    pub runs: Vec<SwitchedRun>,
    /// Starts seen, log time ms, in order.
    pub starts_ms: Vec<i64>,
}

/// A cycle counts only when at least this share of it is known: a hidden run
/// inside would make two cycles of one.
const LEAST_KNOWN: f64 = 0.99;

impl Switching {
    /// Cut-in: tank pressure at the start of runs, kPa gauge.
    #[must_use]
    pub fn cut_in(&self) -> Option<Typical> {
        pressures(self.runs.iter().filter_map(|r| r.start))
    }

    /// Cut-out: tank pressure at the stop of runs, kPa gauge.
    #[must_use]
    pub fn cut_out(&self) -> Option<Typical> {
        pressures(self.runs.iter().filter_map(|r| r.stop))
    }

    /// Length of complete runs, s.
    ///
    /// ```
    /// use seep_report::analysis::duty::{SwitchedRun, Switching};
    /// let run = |from_ms: i64, seconds: i64| SwitchedRun {
    ///     from_ms,
    ///     to_ms: from_ms + 1000 * seconds,
    ///     silence_s: 0.1,
    ///     start: None,
    ///     stop: None,
    /// };
    /// let switching = Switching {
    ///     runs: vec![run(0, 90), run(600_000, 100), run(1_200_000, 95)],
    ///     starts_ms: vec![0, 600_000, 1_200_000],
    /// };
    /// let seconds = switching.run_s().unwrap();
    /// assert_eq!((seconds.median, seconds.lowest, seconds.count), (95.0, 90.0, 3));
    /// assert!(switching.cut_in().is_none());
    /// ```
    #[must_use]
    pub fn run_s(&self) -> Option<Typical> {
        let seconds = |r: &SwitchedRun| (r.to_ms - r.from_ms) as f64 / 1000.0;
        typical(
            &self.runs.iter().map(seconds).collect::<Vec<_>>(),
            &self.silences(),
        )
    }

    /// From the start of a run to the start of the next, s, where all the time
    /// between is known.
    #[must_use]
    pub fn cycle_s(&self, timeline: &Timeline) -> Option<Typical> {
        let cycles: Vec<f64> = self
            .starts_ms
            .windows(2)
            .map(|w| timeline.window(w[0], w[1] - w[0]))
            .filter(|w| w.coverage() >= LEAST_KNOWN)
            .map(|w| w.window_s)
            .collect();
        typical(&cycles, &self.silences())
    }

    /// Silence of the source before a switch, s: the median; 0 without any
    /// complete run.
    #[must_use]
    pub fn silence_s(&self) -> f64 {
        median(&self.silences()).unwrap_or(0.0)
    }

    fn silences(&self) -> Vec<f64> {
        self.runs.iter().map(|r| r.silence_s).collect()
    }
}

fn pressures(edges: impl Iterator<Item = Edge>) -> Option<Typical> {
    let (values, steps): (Vec<f64>, Vec<f64>) = edges.map(|e| (e.kpa_gauge, e.step_kpa)).unzip();
    typical(&values, &steps)
}

/// Median with the interval from the spread, widened to either side by the
/// median of `steps`: what a reading may be off because readings are rare.
fn typical(values: &[f64], steps: &[f64]) -> Option<Typical> {
    let (centre, interval) = median_interval(values, 0.95)?;
    let step = median(steps).unwrap_or(0.0);
    Some(Typical {
        median: centre,
        low: interval.low - step,
        high: interval.high + step,
        lowest: values.iter().copied().fold(f64::INFINITY, f64::min),
        highest: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        count: values.len(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(from_s: i64, to_s: i64, start: f64, stop: f64) -> SwitchedRun {
        let edge = |kpa_gauge| {
            Some(Edge {
                kpa_gauge,
                step_kpa: 2.0,
            })
        };
        SwitchedRun {
            from_ms: from_s * 1000,
            to_ms: to_s * 1000,
            silence_s: 1.0,
            start: edge(start),
            stop: edge(stop),
        }
    }

    #[test]
    fn the_interval_holds_the_spread_and_the_step_between_readings() {
        let switching = Switching {
            runs: vec![run(0, 60, 800.0, 1000.0), run(600, 660, 800.0, 1004.0)],
            starts_ms: vec![0, 600_000],
        };
        let cut_in = switching.cut_in().expect("two runs");
        assert_eq!((cut_in.low, cut_in.high), (798.0, 802.0));
        let cut_out = switching.cut_out().expect("two runs");
        assert!((cut_out.median - 1002.0).abs() < 1e-9);
        assert!(cut_out.high > 1006.0, "two runs alone tell little");
    }

    #[test]
    fn a_cycle_over_unknown_time_does_not_count() {
        let switching = Switching {
            runs: Vec::new(),
            starts_ms: vec![0, 600_000, 1_200_000, 1_800_000],
        };
        let known = [(0, 700_000), (1_100_000, 2_000_000)];
        let cycles = switching.cycle_s(&Timeline::new(&[], &known));
        assert_eq!(cycles.map(|c| (c.median, c.count)), Some((600.0, 2)));
        assert!(switching.cycle_s(&Timeline::default()).is_none());
    }
}
