//! Spans for which the recorder had nothing to record.

use serde::{Deserialize, Serialize};

/// A silence of this length is a night's, ms. **Source**: judgement.
const LONG_MS: i64 = 4 * 3_600_000;

/// Finds the long silences of a log, session by session.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(super) struct LongSilences {
    last_ms: Option<i64>,
    /// From the last reading before to the first behind, s.
    pub(super) found_s: Vec<(f64, f64)>,
}

impl LongSilences {
    /// Takes the times of the readings of the next session, ms, in order.
    pub(super) fn push(&mut self, t_ms: &[i64]) {
        for now in t_ms {
            if let Some(last) = self.last_ms.filter(|last| now - last >= LONG_MS) {
                self.found_s
                    .push((last as f64 / 1000.0, *now as f64 / 1000.0));
            }
            self.last_ms = Some(*now);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_night_within_a_session_and_one_between_two_are_found() {
        let hour = 3_600_000;
        let mut silences = LongSilences::default();
        silences.push(&[0, hour, 9 * hour, 10 * hour]);
        silences.push(&[13 * hour, 20 * hour]);
        assert_eq!(
            silences.found_s,
            [(3600.0, 9.0 * 3600.0), (13.0 * 3600.0, 20.0 * 3600.0)]
        );
    }
}
