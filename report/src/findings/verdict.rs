//! The first sentence of a report.

use super::place_words;
use crate::analysis::leak::{CM3_MIN_PER_L_S, PooledLeak};
use crate::model::{Finding, Severity, Verdict};

/// Rests of at least this total length are needed to call a car tight, s.
const ENOUGH_REST_S: f64 = 4.0 * 3600.0;

/// The most urgent finding, or what was not seen and how small it could be.
#[must_use]
pub fn verdict(findings: &[Finding], leaks: &[PooledLeak]) -> Verdict {
    let fine = "No fault seen: it holds its air, and valves and compressor work as they did.";
    verdict_or(findings, leaks, fine)
}

/// The same of findings about lost air alone: nothing is said of valves and
/// compressor.
#[must_use]
pub fn air_verdict(findings: &[Finding], leaks: &[PooledLeak]) -> Verdict {
    verdict_or(findings, leaks, "No leak seen: it holds its air.")
}

fn verdict_or(findings: &[Finding], leaks: &[PooledLeak], fine: &str) -> Verdict {
    let worst = findings
        .iter()
        .filter(|f| f.severity > Severity::Unknown)
        .max_by(|a, b| {
            let rank = |f: &Finding| (f.severity, f.certainty.percent.unwrap_or(0.0));
            let (ra, rb) = (rank(a), rank(b));
            ra.0.cmp(&rb.0).then(ra.1.total_cmp(&rb.1))
        });
    if let Some(worst) = worst {
        let others = findings
            .iter()
            .filter(|f| f.severity > Severity::Unknown)
            .count()
            - 1;
        let more = match others {
            0 => String::new(),
            1 => " One more finding follows.".into(),
            n => format!(" {n} more findings follow."),
        };
        return Verdict {
            sentence: format!("{}{more}", worst.sentence),
            certainty: worst.certainty,
            severity: worst.severity,
        };
    }
    let rested: f64 = leaks
        .iter()
        .map(|l| l.seconds)
        .fold(f64::INFINITY, f64::min);
    if leaks.is_empty() || rested < ENOUGH_REST_S {
        return Verdict::unknown(
            "Nothing stands out, but the car did not rest long enough to rule a leak out: park it \
             for a night and run this again.",
        );
    }
    let limit = leaks
        .iter()
        .filter(|l| l.place != "tank" && !l.lower_bound)
        .map(|l| (l.loss_l_per_s.interval_95().1.max(0.0), &l.place))
        .max_by(|a, b| a.0.total_cmp(&b.0));
    let bound = limit.map_or(String::new(), |(high, place)| {
        format!(
            " Any corner leak is below {:.2} cm³/min ANR ({} is known least).",
            high * CM3_MIN_PER_L_S,
            place_words(place)
        )
    });
    let blind = if leaks.iter().any(|l| l.lower_bound) {
        " Where no height is recorded a corner can sink at steady pressure unseen."
    } else {
        ""
    };
    Verdict::new(Severity::Fine, 0.95, &format!("{fine}{bound}{blind}"))
}
