//! Resolution and accuracy of the sensors against the holds, as a table.

use crate::findings::place_words;
use crate::model::{Cell, Column, Measured, Section, Table, Unit};
use crate::proof::{ACCURACY_RATIO, RESOLUTION_RATIO, TestRig};

/// One row per hold and place; `None` for a plan without holds.
pub(super) fn section(rigs: &[TestRig]) -> Option<Section> {
    if rigs.is_empty() {
        return None;
    }
    let mut section = Section::new("test-rig", "Resolution and accuracy of the sensors");
    let mut table = Table::new(
        "test-rig",
        "Allowed change of each hold over the resolution (at least 10:1) and over the accuracy \
         (at least 4:1)",
        vec![
            Column::text("place"),
            Column::mixed("allowed"),
            Column::mixed("resolution"),
            Column::text("10:1"),
            Column::mixed("accuracy"),
            Column::text("4:1"),
            Column::text("remarks"),
        ],
    );
    for rig in rigs {
        table.push(row(rig));
    }
    section.tables.push(table);
    section.notes.push(
        "The two ratios are those that ASTM E2930 asks of a pressure-decay test that certifies a \
         leakage rate (by its public abstract). It covers rigid vessels, so the tank; for an air \
         spring they are borrowed. Resolution: one count of pressure, height and thermometer \
         together. Accuracy: half the 95 % interval of the change over the hold, from this \
         recording. The verdict above does not depend on them: it already needs the whole \
         interval inside the limit."
            .into(),
    );
    Some(section)
}

fn row(rig: &TestRig) -> Vec<Cell> {
    let unit = if rig.hold.within_mm.is_some() {
        Unit::Mm
    } else {
        Unit::KpaDifference
    };
    let cell = |value: Option<f64>, why: &str| {
        Cell::number_or(value.map(|v| Measured::exact(two_digits(v), unit)), why)
    };
    vec![
        Cell::text(&place_words(&rig.place)),
        Cell::Number(Measured::exact(rig.allowed, unit)),
        cell(rig.resolution, "cannot be told"),
        ratio(rig.resolution_ratio(), RESOLUTION_RATIO),
        cell(rig.accuracy, "no estimate"),
        ratio(rig.accuracy_ratio(), ACCURACY_RATIO),
        Cell::text(&rig.remarks.join("; ")),
    ]
}

/// `yes, 34:1`.
fn ratio(ratio: Option<f64>, least: f64) -> Cell {
    match ratio {
        None => Cell::missing("cannot be told"),
        Some(r) => {
            let word = if r >= least { "yes" } else { "NO" };
            Cell::text(&format!("{word}, {:.1}:1", (r * 10.0).floor() / 10.0))
        }
    }
}

fn two_digits(value: f64) -> f64 {
    super::super::leaks::two_digits(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ratio_just_below_is_not_rounded_up_to_the_rule() {
        assert_eq!(ratio(Some(9.99), 10.0), Cell::text("NO, 9.9:1"));
        assert_eq!(ratio(Some(10.0), 10.0), Cell::text("yes, 10.0:1"));
    }
}
