//! Air that crosses between the springs of a pair on one circuit, for `seep moves`.

use crate::analysis::side_to_side::SideToSide;
use crate::digest::Digest;
use crate::findings::place_words;
use crate::model::{Cell, Column, Measured, Section, Table, Text, Unit};
use crate::recording::Recording;
use crate::text;

/// The section, where the rig names the two sides of a pair and both were read.
pub(super) fn section(recording: &Recording, digest: &Digest) -> Option<Section> {
    (!digest.sides.is_empty()).then(|| {
        let mut section = Section::new("side-to-side", "Air from side to side");
        section.tables.push(table(&digest.sides));
        let tolerance_mm = recording.rig.limits.height_tolerance_mm;
        section
            .notes
            .extend(digest.sides.iter().map(|s| sentence(s, tolerance_mm)));
        section.notes.push(
            "Readings while driving with shut valves, about the middle of each two minutes; 19 of \
             20 lie within the printed heights. Concordance is 1 where the sides move alike, −1 \
             where one rises by what the other sinks."
                .into(),
        );
        section
    })
}

fn table(sides: &[SideToSide]) -> Table {
    let mut table = Table::new(
        "side-to-side",
        "How the two sides of a pair on one circuit move",
        vec![
            Column::text("circuit"),
            Column::mixed("looked at"),
            Column::number("against each other", Unit::Mm),
            Column::number("together", Unit::Mm),
            Column::number("concordance", Unit::One),
            Column::number("air that crosses", Unit::AnrLitres),
        ],
    );
    for s in sides {
        let mm = |mm: f64| Cell::Number(Measured::exact(mm, Unit::Mm));
        let crossing = s.crossing_l.map(hundredths);
        table.push(vec![
            Cell::text(&place_words(&s.place)),
            Cell::duration(s.seconds),
            mm(s.mirrored_mm),
            mm(s.together_mm),
            Cell::Number(Measured::exact(
                (100.0 * s.concordance).round() / 100.0,
                Unit::One,
            )),
            Cell::number_or(crossing, "needs the volume by height and the pressure"),
        ]);
    }
    table
}

fn hundredths(litres: f64) -> Measured {
    Measured::exact((100.0 * litres).round() / 100.0, Unit::AnrLitres)
}

fn sentence(s: &SideToSide, tolerance_mm: f64) -> Text {
    let place = place_words(&s.place);
    if s.is_mirrored(tolerance_mm) {
        return text![
            "Air crosses from side to side of ",
            place,
            " in bends: one side sinks by what the other rises, up to ",
            Measured::exact(s.mirrored_mm, Unit::Mm),
            ", and their sum stays. This is no leak: the two springs share one circuit, which does \
             not resist leaning."
        ];
    }
    text![
        "No air was seen to cross from side to side of ",
        place,
        ": its heights do not mirror each other by more than ",
        Measured::exact(tolerance_mm, Unit::Mm),
        "."
    ]
}
