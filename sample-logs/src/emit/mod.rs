//! What the car's electronics send, and the files around it.

mod bus;
mod rig;
mod serial_box;
mod table;

pub(crate) use bus::Bus;
pub(crate) use rig::rig_toml;
pub(crate) use serial_box::SerialBox;

/// Short name of a place for the serial line: the initials of its words, as in
/// `FL` for `front_left` and `C1` for `compressor_1`.
#[must_use]
pub(crate) fn initials(place: &str) -> String {
    place
        .split('_')
        .filter_map(|word| word.chars().next())
        .map(|c| c.to_ascii_uppercase())
        .collect()
}

/// Short names of several places; whole names where initials would be equal.
#[must_use]
pub(crate) fn short_names(places: &[&str]) -> Vec<String> {
    let short: Vec<String> = places.iter().map(|p| initials(p)).collect();
    let is_alone = |s: &String| short.iter().filter(|other| *other == s).count() == 1;
    short
        .iter()
        .zip(places)
        .map(|(s, place)| {
            if is_alone(s) {
                s.clone()
            } else {
                place.to_ascii_uppercase()
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_names_stay_apart() {
        assert_eq!(short_names(&["front_left", "rear_left"]), ["FL", "RL"]);
        assert_eq!(short_names(&["front", "fore"]), ["FRONT", "FORE"]);
    }
}
