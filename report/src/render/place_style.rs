//! One place, one colour, one marker, one letter: in every panel, page and command.

use crate::model::Report;

use super::words;

/// Styles that differ.
pub(crate) const STYLES: usize = 8;

/// Of whatever is no place of the rig.
const NO_PLACE: usize = STYLES - 1;

/// Places that look alike on every car.
const FIXED: [(&str, usize); 8] = [
    ("front left", 0),
    ("front right", 1),
    ("rear left", 2),
    ("rear right", 3),
    ("tank", 4),
    ("ambient", 5),
    ("front", 0),
    ("rear", 2),
];

/// Style of each place of a report.
#[derive(Debug, Clone, Default)]
pub(crate) struct PlaceStyles(Vec<(String, usize)>);

impl PlaceStyles {
    /// The usual places have fixed styles; a rig with other names takes those left over
    /// in its own order.
    pub(crate) fn of(report: &Report) -> Self {
        let mut out: Vec<(String, usize)> = FIXED.map(|(n, i)| (n.to_string(), i)).into();
        let mut used: Vec<usize> = Vec::new();
        let names = report.made_from.places.iter().map(|p| words::place(p));
        let (usual, own): (Vec<_>, Vec<_>) = names.partition(|n| fixed(n).is_some());
        used.extend(usual.iter().filter_map(|n| fixed(n)));
        for name in own {
            let free = (0..STYLES).find(|i| !used.contains(i));
            let style = free.unwrap_or(NO_PLACE);
            used.push(style);
            out.push((name, style));
        }
        PlaceStyles(out)
    }

    /// Style of a name as printed.
    pub(crate) fn index(&self, name: &str) -> usize {
        let name = words::place(name);
        let found = self.0.iter().find(|p| p.0 == name);
        found.map_or(NO_PLACE, |p| p.1)
    }

    /// Letter of a name in plots of plain characters. Capital: footnotes have small ones.
    pub(crate) fn letter(&self, name: &str) -> char {
        let index = u8::try_from(self.index(name)).unwrap_or(0);
        char::from(b'A' + index)
    }
}

fn fixed(name: &str) -> Option<usize> {
    FIXED.iter().find(|f| f.0 == name).map(|f| f.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{ClockState, DataHealth, MadeFrom, Verdict};

    fn styles(places: &[&str]) -> PlaceStyles {
        let made_from = MadeFrom {
            log_file: String::new().into(),
            log_sha256: String::new().into(),
            rig_hash: String::new().into(),
            vehicle: "invented".into(),
            from: None,
            to: None,
            zone: "UTC".into(),
            coverage: 0.0,
            clock: ClockState::Unsynced,
            invented: None,
            places: places.iter().map(ToString::to_string).collect(),
        };
        let verdict = Verdict::unknown("Invented.");
        let health = DataHealth::default();
        PlaceStyles::of(&Report::new("trip", "Trip", made_from, verdict, health))
    }

    #[test]
    fn no_two_places_of_a_car_look_alike() {
        for places in [
            &[
                "front_left",
                "front_right",
                "rear_left",
                "rear_right",
                "tank",
            ][..],
            &["front", "rear", "tank"],
            &["bag_1", "bag_2", "bag_3", "bag_4", "tank"],
            &["rear_left", "trailer", "tank", "cab"],
        ] {
            let styles = styles(places);
            let mut all: Vec<usize> = places.iter().map(|p| styles.index(p)).collect();
            all.sort_unstable();
            all.dedup();
            assert_eq!(all.len(), places.len(), "{places:?}");
        }
    }

    #[test]
    fn the_usual_places_are_the_same_on_every_car() {
        let (few, many) = (
            styles(&["rear_right"]),
            styles(&["front_left", "rear_right"]),
        );
        assert_eq!(few.letter("rear right"), many.letter("rear_right"));
        assert_eq!(few.letter("no such place"), 'H');
    }
}
