//! Usual positions, for `seep moves`.

use crate::analysis::positions::{Position, positions};
use crate::digest::Digest;
use crate::findings::place_words;
use crate::model::{Cell, Column, Measured, Section, Table, Unit};
use crate::recording::Recording;

/// Visits belong together when each corner ends within so many tolerances.
const NEAR: f64 = 3.0;

/// The section, where the car came back to a height at least three times.
pub(super) fn section(recording: &Recording, digest: &Digest) -> Option<Section> {
    let near_mm = NEAR * recording.rig.limits.height_tolerance_mm;
    let found = positions(&digest.moves, near_mm);
    (!found.is_empty()).then(|| {
        let mut section = Section::new("positions", "Usual positions");
        section.tables.push(visits(&found));
        section.tables.push(corners(&found));
        section.notes.push(
            "A position is a height that moves ended at, at least three times, each corner within \
             three times the rig's tolerance for heights of the middle. Time runs from the first \
             valve until every corner stays within that tolerance of its final height."
                .into(),
        );
        section
    })
}

fn name(index: usize) -> Cell {
    Cell::text(&format!("position {}", index + 1))
}

fn visits(found: &[Position]) -> Table {
    let mut table = Table::new(
        "positions",
        "How often each was reached, and how fast",
        vec![
            Column::text("position"),
            Column::mixed("visits"),
            Column::number("time to it, median", Unit::Seconds),
            Column::number("slowest", Unit::Seconds),
        ],
    );
    let seconds = |s: Option<f64>| {
        let told = s.map(|s| Measured::exact((10.0 * s).round() / 10.0, Unit::Seconds));
        Cell::number_or(told, "did not settle before the next move")
    };
    for (i, p) in found.iter().enumerate() {
        table.push(vec![
            name(i),
            Cell::count(p.visits as u64),
            seconds(p.arrival_s),
            seconds(p.slowest_s),
        ]);
    }
    table
}

fn corners(found: &[Position]) -> Table {
    let mut table = Table::new(
        "position-corners",
        "Where each corner ends, how close it comes, and how that drifts",
        vec![
            Column::text("position"),
            Column::text("corner"),
            Column::number("height", Unit::Mm),
            Column::number("half of the visits within", Unit::Mm),
            Column::number("drift in 30 days", Unit::Mm),
        ],
    );
    let mm = |v: f64| Cell::Number(Measured::exact((10.0 * v).round() / 10.0, Unit::Mm));
    for (i, p) in found.iter().enumerate() {
        for c in &p.corners {
            let drift = c.drift_mm_per_month;
            let drift = drift.map(|(v, low, high)| Measured::estimate(v, low, high, Unit::Mm));
            table.push(vec![
                name(i),
                Cell::text(&place_words(&c.place)),
                mm(c.mm),
                mm(c.within_mm),
                Cell::number_or(drift, "fewer than six visits, or less than a day"),
            ]);
        }
    }
    table
}
