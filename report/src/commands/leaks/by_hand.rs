//! What became of readings by hand.

use crate::analysis::rest_model::HandUse;
use crate::findings::place_words;
use std::collections::BTreeMap;

/// A sentence; `None` where nothing was read by hand.
pub(super) fn note(by_hand: &HandUse) -> Option<String> {
    let listed = |counts: &BTreeMap<String, usize>| -> String {
        let all: Vec<String> = counts
            .iter()
            .map(|(place, n)| format!("{} {n}", place_words(place)))
            .collect();
        all.join(", ")
    };
    let sum = |counts: &BTreeMap<String, usize>| counts.values().sum::<usize>();
    let (used, unused) = (sum(&by_hand.used), sum(&by_hand.unused));
    if used + unused == 0 {
        return None;
    }
    let mut words = if used > 0 {
        format!("Readings by hand used: {used} ({}).", listed(&by_hand.used))
    } else {
        "Readings by hand used: none.".to_string()
    };
    if unused > 0 {
        words.push_str(&format!(
            " Not used: {unused} ({}). A reading counts together with a second one of the same parked \
             period, with no fill or dump between; a height also needs the corner's volume by height \
             in the rig, and a pressure counts at the tank.",
            listed(&by_hand.unused)
        ));
    }
    Some(words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_read_says_nothing_and_what_was_not_used_says_why() {
        assert_eq!(note(&HandUse::default()), None);
        let one = |place: &str, n| BTreeMap::from([(place.to_string(), n)]);
        let words = note(&HandUse {
            used: one("front_left", 4),
            unused: one("tank", 1),
        })
        .expect("words");
        assert!(words.contains("used: 4 (front left 4)"), "{words}");
        assert!(words.contains("Not used: 1 (tank 1)"), "{words}");
    }
}
