//! Proof before a show: a plan of limits against what was recorded.
//!
//! A limit is met, broken, or cannot be judged; never met by default. Where a
//! limit rests on a fitted rate, its whole 95 % interval must lie inside.

mod cycles;
mod duty;
mod forecast;
mod hold;
mod keys;
mod lifts;
mod plan;
mod plan_checks;
mod recorded_slope;
mod recording;
mod seen_holds;
mod test_rig;

pub use forecast::{Ahead, Reaches, ahead};
pub use keys::PLAN_KEYS;
pub use lifts::{Lifts, lifts_left};
pub use plan::{Cycle, DutyLimit, LimitPlan, PlanError, PlannedHold, RecordingLimit};
pub use recording::unexplained;
pub use test_rig::{ACCURACY_RATIO, RESOLUTION_RATIO, TestRig, test_rigs};

use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::{Measured, Text};
use crate::recording::Recording;

/// How one limit fared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// Met.
    Pass,
    /// Broken.
    Fail,
    /// Cannot be judged, and why.
    Open(String),
}

/// One limit at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedLimit {
    /// Circuit, `tank`, compressor, or `log`.
    pub place: String,
    /// What is demanded, without the number: `change of height over 72 h`.
    pub what: String,
    /// The limit.
    pub limit: Measured,
    /// What was measured; none when nothing was.
    pub measured: Option<Measured>,
    /// Met, broken or open.
    pub outcome: Outcome,
    /// What stands behind the measurement.
    pub behind: Text,
}

/// Judge every limit of a plan, in the plan's order.
#[must_use]
pub fn judge(
    plan: &LimitPlan,
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
    holes: &[(i64, i64)],
) -> Vec<JudgedLimit> {
    let rig = &recording.rig;
    let circuits = || {
        rig.circuits
            .iter()
            .map(|c| c.name.clone())
            .collect::<Vec<_>>()
    };
    let mut out = Vec::new();
    for limit in &plan.hold {
        for place in places(&limit.place, circuits()) {
            out.push(hold::judge(limit, &place, digest, judgement));
        }
    }
    for limit in &plan.cycle {
        for place in places(&limit.place, circuits()) {
            out.extend(cycles::judge(limit, &place, &digest.moves));
        }
    }
    for limit in &plan.duty {
        let all = rig.compressors.iter().map(|c| c.name.clone()).collect();
        for place in places(&limit.compressor, all) {
            let own = digest.compressors.iter().find(|c| c.place == place);
            out.push(duty::judge(limit, &place, own.map(|c| &c.timeline)));
        }
    }
    if let Some(limit) = &plan.recording {
        out.extend(recording::judge(limit, recording, digest, holes));
    }
    out
}

/// One place by name, or all of a kind.
fn places(word: &str, all: Vec<String>) -> Vec<String> {
    if word == "all" {
        return all;
    }
    vec![word.to_string()]
}
