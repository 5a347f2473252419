//! Usual positions, for `seep moves`.

use crate::analysis::positions::{MonthlyDrift, Position, positions};
use crate::digest::Digest;
use crate::findings::place_words;
use crate::model::{Cell, Column, Measured, Section, Table, Unit};
use crate::recording::Recording;

/// Visits belong together when each corner ends within so many tolerances.
const NEAR: f64 = 3.0;

/// The section, where the car came back to a height at least three times.
pub(super) fn section(recording: &Recording, digest: &Digest) -> Option<Section> {
    let near_mm = NEAR * recording.rig.limits.height_tolerance_mm;
    let found = positions(&digest.moves, near_mm, &recording.rig.positions);
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

fn name(found: &[Position], index: usize) -> Cell {
    match &found[index].name {
        Some(name) => Cell::text(name),
        None => Cell::text(&format!("position {}", index + 1)),
    }
}

fn monthly(drift: Option<MonthlyDrift>, unit: Unit) -> Cell {
    let told = drift.map(|d| Measured::estimate(d.value, d.low, d.high, unit));
    Cell::number_or(told, "fewer than six drives, or less than a day")
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
            Column::number("slower in 30 days", Unit::Seconds),
        ],
    );
    let seconds = |s: Option<f64>| {
        let told = s.map(|s| Measured::exact((10.0 * s).round() / 10.0, Unit::Seconds));
        Cell::number_or(told, "did not settle before the next move")
    };
    for (i, p) in found.iter().enumerate() {
        table.push(vec![
            name(found, i),
            Cell::count(p.visits as u64),
            seconds(p.arrival_s),
            seconds(p.slowest_s),
            monthly(p.arrival_s_per_month, Unit::Seconds),
        ]);
    }
    table
}

fn corners(found: &[Position]) -> Table {
    let any_named = found.iter().any(|p| p.name.is_some());
    let mut columns = vec![
        Column::text("position"),
        Column::text("corner"),
        Column::number("height", Unit::Mm),
        Column::number("half of the visits within", Unit::Mm),
        Column::number("drift in 30 days", Unit::Mm),
    ];
    if any_named {
        columns.push(Column::number("above its named height", Unit::Mm));
    }
    let mut table = Table::new(
        "position-corners",
        "Where each corner ends, how close it comes, and how that drifts",
        columns,
    );
    let tenths = |v: f64| Measured::exact((10.0 * v).round() / 10.0, Unit::Mm);
    let mm = |v: f64| Cell::Number(tenths(v));
    for (i, p) in found.iter().enumerate() {
        for c in &p.corners {
            let mut row = vec![
                name(found, i),
                Cell::text(&place_words(&c.place)),
                mm(c.mm),
                mm(c.within_mm),
                monthly(c.drift_mm_per_month, Unit::Mm),
            ];
            if any_named {
                let off = c.off_mm.map(tenths);
                row.push(Cell::number_or(off, "the rig names no position here"));
            }
            table.push(row);
        }
    }
    table
}
