//! What the report claims about a car.

use crate::path::Judged;
use seep_report::conclusion::FindingKind;
use seep_report::model::{Finding, Severity};
use seep_report::render::text_in;
use seep_report::render::units::DisplayUnits;
use seep_sample_logs::truth::{CompressorRun, Truth};

/// One finding that asks for attention.
#[derive(Debug, Clone)]
pub(crate) struct Claim {
    /// What.
    pub kind: FindingKind,
    /// Where.
    pub place: String,
    /// The sentence.
    pub sentence: String,
}

/// Findings that ask for attention, in the order of the report. A finding on
/// duty that is true is no claim of a fault.
pub(crate) fn claims(judged: &Judged, truth: &Truth) -> Vec<Claim> {
    let asks = |f: &&Finding| f.severity > Severity::Unknown;
    let is_fact = |f: &&Finding| {
        f.kind == FindingKind::DutyTooHigh && worst_duty_percent(truth, &f.place) > RATED_PERCENT
    };
    judged
        .judgement
        .findings
        .iter()
        .filter(asks)
        .filter(|f| !is_fact(f))
        .map(|f| Claim {
            kind: f.kind,
            place: f.place.clone(),
            sentence: text_in(&f.sentence, DisplayUnits::default()),
        })
        .collect()
}

/// Rating of the compressors of the sample cars, percent of 10 min.
const RATED_PERCENT: f64 = 33.0;

/// Highest true duty over 10 min.
fn worst_duty_percent(truth: &Truth, compressor: &str) -> f64 {
    const WINDOW_MS: i64 = 600_000;
    let runs: Vec<&CompressorRun> = truth
        .runs
        .iter()
        .filter(|r| r.compressor == compressor)
        .collect();
    let on_ms = |from: i64| -> i64 {
        let inside = |r: &&CompressorRun| r.end_ms.min(from + WINDOW_MS) - r.start_ms.max(from);
        runs.iter().map(inside).map(|ms| ms.max(0)).sum()
    };
    let starts = runs.iter().flat_map(|r| [r.start_ms, r.end_ms - WINDOW_MS]);
    starts
        .map(|from| 100.0 * on_ms(from) as f64 / WINDOW_MS as f64)
        .fold(0.0, f64::max)
}
