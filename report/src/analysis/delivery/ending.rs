//! What ended a run of the compressor.

use super::super::moves::Series;
use serde::{Deserialize, Serialize};

/// What ended a run, as far as the log shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum RunEnd {
    /// Its pressure switch or its thermal switch: nothing else moved.
    Switch,
    /// A fill valve opened or closed at that moment: a controller may stop the
    /// compressor with a fill.
    Fill,
    /// The supply went away: the recording ended, the ignition was switched off.
    SwitchedOff,
}

/// When the supply was taken away, in one session.
#[derive(Debug, Clone, Copy, Default)]
pub struct SwitchedOff<'a> {
    /// End of the session, log time ms; `None` where it is not known.
    pub session_end_ms: Option<i64>,
    /// Last words of the sources that sleep with the ignition before they fell
    /// silent, log time ms, in order.
    pub asleep_ms: &'a [i64],
}

/// A run that stops this near to the end of the recording, or to the last word of a
/// source that sleeps with the ignition, was ended by it, ms: recorders and buses
/// run on for some seconds (common practice, no source).
const REACH_MS: i64 = 30_000;

/// Volts before and after a stop are means over this, ms.
const VOLTS_MS: i64 = 30_000;

/// Volts settle for this long after a stop, ms.
const SETTLE_MS: i64 = 2_000;

/// A supply that falls by this much when a load is taken off it has lost its
/// generator: a charging 12 V system stands at 13.5 V or more and a resting battery
/// at 12.8 V or less, V (common practice, no source).
const LEAST_DROP_V: f64 = 0.5;

impl SwitchedOff<'_> {
    /// What ended a run that stopped at a time.
    #[must_use]
    pub fn ended(&self, stop_ms: i64, supply_v: Series) -> RunEnd {
        let session = self
            .session_end_ms
            .is_some_and(|end| end - stop_ms <= REACH_MS);
        let near = |t: &i64| t.abs_diff(stop_ms) <= REACH_MS.unsigned_abs();
        if session || self.asleep_ms.iter().any(near) || generator_lost(supply_v, stop_ms) {
            RunEnd::SwitchedOff
        } else {
            RunEnd::Switch
        }
    }
}

/// The supply falls although the compressor no longer draws from it.
fn generator_lost(supply_v: Series, stop_ms: i64) -> bool {
    let mean = |from: i64, to: i64| supply_v.mean(from, to).map(|m| m.mean);
    let before = mean(stop_ms - VOLTS_MS, stop_ms);
    let after = mean(stop_ms + SETTLE_MS, stop_ms + SETTLE_MS + VOLTS_MS);
    before
        .zip(after)
        .is_some_and(|(before, after)| before - after > LEAST_DROP_V)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stop_with_the_ignition_is_none_of_its_switches() {
        let t: Vec<i64> = (0..120).map(|s| 1_000 * s).collect();
        let volts = |after: f32| -> Vec<f32> {
            (0..120)
                .map(|s| if s < 60 { 13.9 } else { after })
                .collect()
        };
        let ended = |after: f32, asleep_ms: &[i64], session_end_ms: Option<i64>| {
            let volts = volts(after);
            let off = SwitchedOff {
                session_end_ms,
                asleep_ms,
            };
            off.ended(60_000, Series::new(&t, &volts, 0.0))
        };
        assert_eq!(ended(14.1, &[], Some(900_000)), RunEnd::Switch);
        assert_eq!(ended(12.7, &[], Some(900_000)), RunEnd::SwitchedOff);
        assert_eq!(ended(14.1, &[], Some(70_000)), RunEnd::SwitchedOff);
        assert_eq!(ended(14.1, &[55_000], Some(900_000)), RunEnd::SwitchedOff);
        assert_eq!(ended(14.1, &[5_000], None), RunEnd::Switch);
    }
}
