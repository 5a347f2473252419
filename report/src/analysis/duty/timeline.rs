//! When a compressor ran, and when that is known at all.

use super::WindowDuty;
use serde::{Deserialize, Serialize};

/// Runs and known time of one compressor, log time ms, merged and in order.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Timeline {
    runs: Vec<(i64, i64)>,
    known: Vec<(i64, i64)>,
}

impl Timeline {
    /// Runs are cut to the known time.
    #[must_use]
    pub fn new(runs: &[(i64, i64)], known: &[(i64, i64)]) -> Self {
        let known = merged(known);
        let mut inside = Vec::new();
        for run in merged(runs) {
            for k in &known {
                let cut = (run.0.max(k.0), run.1.min(k.1));
                if cut.0 < cut.1 {
                    inside.push(cut);
                }
            }
        }
        Timeline {
            runs: inside,
            known,
        }
    }

    /// Runs, in order.
    #[must_use]
    pub fn runs(&self) -> &[(i64, i64)] {
        &self.runs
    }

    /// Known time, in order.
    #[must_use]
    pub fn known(&self) -> &[(i64, i64)] {
        &self.known
    }

    /// Duty over `[from_ms, from_ms + window_ms)`.
    #[must_use]
    pub fn window(&self, from_ms: i64, window_ms: i64) -> WindowDuty {
        let to_ms = from_ms + window_ms;
        WindowDuty {
            from_ms,
            window_s: window_ms as f64 / 1000.0,
            on_s: overlap_s(&self.runs, from_ms, to_ms),
            known_s: overlap_s(&self.known, from_ms, to_ms),
            edges: self.edges_inside(from_ms, to_ms),
        }
    }

    /// Starts and stops inside; an end of the known time is neither.
    fn edges_inside(&self, from_ms: i64, to_ms: i64) -> usize {
        let first = self.runs.partition_point(|r| r.1 < from_ms);
        self.runs[first..]
            .iter()
            .take_while(|r| r.0 < to_ms)
            .flat_map(|r| [r.0, r.1])
            .filter(|t| from_ms < *t && *t < to_ms && !self.is_end_of_known(*t))
            .count()
    }

    fn is_end_of_known(&self, t_ms: i64) -> bool {
        let i = self.known.partition_point(|k| k.1 < t_ms);
        self.known
            .get(i)
            .is_some_and(|k| k.0 == t_ms || k.1 == t_ms)
    }
}

fn overlap_s(spans: &[(i64, i64)], from_ms: i64, to_ms: i64) -> f64 {
    let first = spans.partition_point(|s| s.1 <= from_ms);
    spans[first..]
        .iter()
        .take_while(|s| s.0 < to_ms)
        .map(|s| (s.1.min(to_ms) - s.0.max(from_ms)) as f64 / 1000.0)
        .sum()
}

fn merged(spans: &[(i64, i64)]) -> Vec<(i64, i64)> {
    let mut sorted: Vec<(i64, i64)> = spans.iter().copied().filter(|s| s.0 < s.1).collect();
    sorted.sort_unstable();
    let mut out: Vec<(i64, i64)> = Vec::new();
    for span in sorted {
        match out.last_mut() {
            Some(last) if span.0 <= last.1 => last.1 = last.1.max(span.1),
            _ => out.push(span),
        }
    }
    out
}
