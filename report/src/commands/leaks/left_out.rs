//! What the parked periods were read without.

use crate::analysis::rest_model::ReducedLog;

/// A sentence; `None` where nothing was left out.
pub(super) fn note(reduced: &ReducedLog) -> Option<String> {
    let reasons = [
        (reduced.spikes, "as spikes"),
        (
            reduced.stuck,
            "of a sensor that stuck while air was moved, and then jumped",
        ),
    ];
    let readings: Vec<String> = reasons
        .iter()
        .filter(|r| r.0 > 0)
        .map(|(n, why)| format!("{n} {why}"))
        .collect();
    let mut sentences = Vec::new();
    if !readings.is_empty() {
        sentences.push(format!("Readings left out: {}.", readings.join(", ")));
    }
    if reduced.rests_left_out > 0 {
        sentences.push(format!(
            "Stretches at rest left out, shorter than 20 min or with fewer than eight readings: {}.",
            reduced.rests_left_out
        ));
    }
    (!sentences.is_empty()).then(|| sentences.join(" "))
}

#[cfg(test)]
mod tests {
    use super::note;
    use crate::analysis::rest_model::ReducedLog;

    #[test]
    fn every_count_that_is_not_zero_is_told() {
        assert_eq!(note(&ReducedLog::default()), None);
        let words = note(&ReducedLog {
            spikes: 2,
            stuck: 40,
            rests_left_out: 3,
            ..ReducedLog::default()
        });
        let words = words.unwrap_or_default();
        for told in ["2 as spikes", "40 of a sensor that stuck", "readings: 3."] {
            assert!(words.contains(told), "{words}");
        }
    }
}
