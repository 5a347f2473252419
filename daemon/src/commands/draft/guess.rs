//! What a transducer measures, told from its name and its type letter.

use crate::heard::HeardTransducer;
use seep_common::channel::Quantity;

/// A place with its usual names and abbreviations.
const PLACES: [(&str, &[&str]); 11] = [
    ("front_left", &["frontleft", "leftfront", "fl", "lf"]),
    ("front_right", &["frontright", "rightfront", "fr", "rf"]),
    ("rear_left", &["rearleft", "leftrear", "rl", "lr"]),
    ("rear_right", &["rearright", "rightrear", "rr"]),
    ("front", &["front", "fa"]),
    ("rear", &["rear", "ra"]),
    ("tank", &["tank", "tnk", "tk"]),
    (
        "compressor_1",
        &["compressor", "compressor1", "comp", "cmp"],
    ),
    ("ambient", &["ambient", "air", "amb", "outside", "baro"]),
    ("supply", &["supply", "battery", "sup", "bat", "vbat"]),
    ("vehicle", &["vehicle", "car", "speed"]),
];

/// Words that say what is measured, not where.
const MEASURED: [(&str, Option<Quantity>); 14] = [
    ("fill", Some(Quantity::FillValve)),
    ("dump", Some(Quantity::DumpValve)),
    ("height", Some(Quantity::Height)),
    ("level", Some(Quantity::Height)),
    ("pressure", Some(Quantity::GaugePressure)),
    ("press", Some(Quantity::GaugePressure)),
    ("temp", Some(Quantity::Temperature)),
    ("temperature", Some(Quantity::Temperature)),
    ("valve", None),
    ("on", Some(Quantity::Running)),
    ("h", Some(Quantity::Height)),
    ("p", Some(Quantity::GaugePressure)),
    ("kp", Some(Quantity::GaugePressure)),
    ("t", Some(Quantity::Temperature)),
];

/// Where and what, and why it is believed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Guess {
    /// Place part of the channel's name.
    pub place: String,
    /// What is measured; `None` when volts may be a pressure, a height or a voltage.
    pub quantity: Option<Quantity>,
    /// For the comment.
    pub reason: String,
}

/// Guess what a transducer is; a place of the person's choice comes first.
pub(super) fn guess(t: &HeardTransducer, place: Option<&str>) -> Guess {
    let plain = t.name.to_ascii_lowercase().replace(['-', ' ', '.'], "_");
    let (by_name, word) = split(&plain);
    let by_letter = match t.kind.as_str() {
        "P" => Some(Quantity::GaugePressure),
        "C" => Some(Quantity::Temperature),
        "D" => Some(Quantity::Height),
        "I" => Some(Quantity::Current),
        "S" => Some(match word {
            Some(q @ (Quantity::FillValve | Quantity::DumpValve)) => q,
            _ => Quantity::Running,
        }),
        _ => None,
    };
    let found = place.map(str::to_string).or(by_name.map(str::to_string));
    let mut quantity = by_letter.or(word);
    if found.as_deref() == Some("supply") && t.kind == "U" {
        quantity = Some(Quantity::Voltage);
    }
    if found.as_deref() == Some("ambient") && quantity == Some(Quantity::GaugePressure) {
        quantity = Some(Quantity::AbsolutePressure);
    }
    let reason = match (place, by_name) {
        (Some(place), _) => format!("placed at {place} as answered"),
        (None, Some(place)) => format!("`{}` is taken for {place}", t.name),
        (None, None) => format!(
            "`{}` names no place known here: recorded, not analysed; --place '{}=front_left' says where it is",
            t.name, t.name
        ),
    };
    Guess {
        place: found.unwrap_or_else(|| other(&plain)),
        quantity,
        reason,
    }
}

/// A place that is recorded and not analysed, with a name that may stand in a rig.
fn other(plain: &str) -> String {
    let kept: String = (plain.chars())
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '_' })
        .collect();
    format!("other_{}", kept.trim_matches('_'))
}

/// The place in a name, and the word that says what is measured there.
fn split(plain: &str) -> (Option<&'static str>, Option<Quantity>) {
    let joined: String = plain.chars().filter(|c| *c != '_').collect();
    let place_of = |word: &str| {
        let known = PLACES.iter().find(|(_, names)| names.contains(&word));
        known.map(|(place, _)| *place)
    };
    if let Some(place) = place_of(&joined) {
        return (Some(place), None);
    }
    // The longest ending that says what is measured and leaves a place.
    let mut endings: Vec<_> = MEASURED.iter().collect();
    endings.sort_by_key(|(word, _)| std::cmp::Reverse(word.len()));
    for (word, quantity) in endings {
        if let Some(place) = joined.strip_suffix(word).and_then(place_of) {
            return (Some(place), *quantity);
        }
    }
    (None, None)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(name: &str, kind: &str) -> (String, Option<Quantity>) {
        let t = HeardTransducer {
            name: name.into(),
            kind: kind.into(),
            unit: String::new(),
            unit_label: None,
            readings: 1,
            without_number: 0,
            rate_hz: None,
            values: Default::default(),
        };
        let guess = guess(&t, None);
        (guess.place, guess.quantity)
    }

    #[test]
    fn names_of_boards_and_of_the_sample_logs() {
        use Quantity::*;
        for (name, kind, place, quantity) in [
            ("TANK", "U", "tank", None),
            ("TKP", "P", "tank", Some(GaugePressure)),
            ("FLP", "P", "front_left", Some(GaugePressure)),
            ("FRH", "D", "front_right", Some(Height)),
            ("front-left height", "D", "front_left", Some(Height)),
            ("FRONT_FILL", "S", "front", Some(FillValve)),
            ("REAR_DUMP", "S", "rear", Some(DumpValve)),
            ("COMPRESSOR", "S", "compressor_1", Some(Running)),
            ("SUPPLY", "U", "supply", Some(Voltage)),
            ("AIR", "C", "ambient", Some(Temperature)),
            ("BARO", "P", "ambient", Some(AbsolutePressure)),
            ("PT#7", "U", "other_pt_7", None),
        ] {
            assert_eq!(of(name, kind), (place.to_string(), quantity), "{name}");
        }
    }
}
