//! One volume, judged.

use super::gather::Held;
use crate::analysis::hold::emptying::{self, Emptying, LARGE_FALL, NoEmptying};
use crate::analysis::hold::{HoldEstimate, NoHold, estimate};
use crate::analysis::stats::mean;

/// What came of one volume.
pub(super) struct JudgedHold {
    pub(super) held: Held,
    pub(super) outcome: HoldOutcome,
}

pub(super) enum HoldOutcome {
    /// A hold.
    Hold(HoldEstimate),
    /// It lost much of its air.
    Emptying(Result<Emptying, NoEmptying>),
    /// Its own valve or the compressor moved air.
    Disturbed,
    /// Not to be judged.
    Open(NoHold),
}

pub(super) fn judge(held: Held) -> JudgedHold {
    let outcome = if held.disturbed {
        HoldOutcome::Disturbed
    } else if fell(&held) > LARGE_FALL {
        let empty = empty_level(&held);
        HoldOutcome::Emptying(emptying::fit(&held.readings, empty))
    } else {
        match estimate(&held.readings, &held.conditions) {
            Ok(seen) => HoldOutcome::Hold(seen),
            Err(why) => HoldOutcome::Open(why),
        }
    };
    JudgedHold { held, outcome }
}

/// Share of the absolute pressure that was lost.
fn fell(held: &Held) -> f64 {
    let kpa = &held.readings.kpa_abs;
    let few = 5.min(kpa.len());
    match (mean(&kpa[..few]), mean(&kpa[kpa.len() - few..])) {
        (Some(first), Some(last)) if first > 0.0 => 1.0 - last / first,
        _ => 0.0,
    }
}

/// Readings of the last fifth that stand still within this of outside pressure are the
/// sensor's zero, kPa.
const ZERO_ERROR_KPA: f64 = 10.0;

/// What the sensor shows when the volume is empty: the level at which it came to rest
/// near outside pressure, else outside pressure.
fn empty_level(held: &Held) -> f64 {
    let kpa = &held.readings.kpa_abs;
    let outside = held.conditions.outside_kpa_abs;
    let tail = &kpa[kpa.len() - kpa.len() / 5..];
    let (a, b) = tail.split_at(tail.len() / 2);
    match (mean(a), mean(b)) {
        (Some(a), Some(b))
            if (a - b).abs() < 0.1 * ZERO_ERROR_KPA && (b - outside).abs() < ZERO_ERROR_KPA =>
        {
            0.5 * (a + b)
        }
        _ => outside,
    }
}
