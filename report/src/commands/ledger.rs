//! Where the air went: the ledger of a span, of its days, and what the compressor ran for.

use crate::analysis::estimate::Estimate;
use crate::analysis::ledger::{Ledger, idle_load_percent, leak_share};
use crate::digest::Digest;
use crate::findings::{measured, place_words};
use crate::judgement::{Judgement, window_ledger};
use crate::model::{Cell, Column, Measured, Section, Table, Unit};
use crate::recording::Recording;

/// Days listed one by one: the last ones.
const MOST_DAYS: usize = 31;

const DAY_S: f64 = 86_400.0;

/// Table of the whole span, table of its days, and notes.
pub(super) fn section(recording: &Recording, digest: &Digest, judgement: &Judgement) -> Section {
    let mut section = Section::new("ledger", "Where the air went");
    let whole = match &judgement.ledger {
        Ok(whole) => whole,
        Err(missing) => {
            section.notes.push(format!("No ledger: {missing}.").into());
            return section;
        }
    };
    section.tables.push(volumes(&whole.ledger));
    let days = days(recording, digest, judgement, whole.span_s);
    if days.rows.len() > 1 {
        section.tables.push(days);
    }
    section.tables.push(shares(digest, &whole.ledger));
    let unmeasured = digest.unmeasured_moves;
    if unmeasured > 0 {
        let note = format!(
            "{unmeasured} openings of valves could not be measured; their air is unexplained here."
        );
        section.notes.push(note.into());
    }
    section
}

fn days(
    recording: &Recording,
    digest: &Digest,
    judgement: &Judgement,
    (from_s, to_s): (f64, f64),
) -> Table {
    let mut table = Table::new(
        "ledger-days",
        "The tank, day by day from the first quiet moment, the newest first",
        vec![
            Column::text("from"),
            Column::number("delivered", Unit::AnrLitres),
            Column::number("moved to corners", Unit::AnrLitres),
            Column::number("leaked", Unit::AnrLitres),
            Column::number("unexplained", Unit::AnrLitres),
        ],
    );
    let days = ((to_s - from_s) / DAY_S).ceil() as usize;
    for day in (days.saturating_sub(MOST_DAYS)..days).rev() {
        let begin = from_s + DAY_S * day as f64;
        let window_s = (begin, (begin + DAY_S).min(to_s));
        let ledger = window_ledger(digest, &recording.rig, &judgement.leaks, window_s);
        let Some(tank) = ledger.volumes.iter().find(|v| v.place == "tank") else {
            continue;
        };
        let mut row = vec![super::head::wall_cell(recording, (1000.0 * begin) as i64)];
        row.extend([tank.came, tank.went, tank.leaked, tank.unexplained].map(|e| litres(&e)));
        table.push(row);
    }
    table
}

fn litres(e: &Estimate) -> Cell {
    Cell::Number(measured(e, Unit::AnrLitres))
}

fn volumes(ledger: &Ledger) -> Table {
    let mut table = Table::new(
        "ledger",
        "Air of each volume, between its first and its last quiet moment: change = came − went − \
         leaked + unexplained",
        vec![
            Column::text("volume"),
            Column::number("change", Unit::AnrLitres),
            Column::number("came", Unit::AnrLitres),
            Column::number("went by valves", Unit::AnrLitres),
            Column::number("leaked", Unit::AnrLitres),
            Column::number("unexplained", Unit::AnrLitres),
        ],
    );
    for v in &ledger.volumes {
        let mut row = vec![Cell::text(&place_words(&v.place))];
        let all = [v.change, v.came, v.went, v.leaked, v.unexplained];
        row.extend(all.map(|e| litres(&e)));
        table.push(row);
    }
    table
}

fn shares(digest: &Digest, ledger: &Ledger) -> Table {
    let mut table = Table::new(
        "ledger-share",
        "What the compressor ran for",
        vec![
            Column::text("quantity"),
            Column::number("share", Unit::Percent),
        ],
    );
    let share = leak_share(ledger).map(|s| measured(&s.percent, Unit::Percent));
    let moves = share.map(|s| {
        let rest = |v: f64| 100.0 - v;
        Measured::estimate(
            rest(s.value),
            s.high.map_or(0.0, rest),
            s.low.map_or(100.0, rest),
            Unit::Percent,
        )
    });
    let none = "nothing leaked and nothing was vented";
    table.push(vec![
        Cell::text("air for leaks"),
        Cell::number_or(share, none),
    ]);
    table.push(vec![
        Cell::text("air for moves"),
        Cell::number_or(moves, none),
    ]);
    for c in &digest.compressors {
        let idle = idle_load_percent(&c.timeline, &digest.moves);
        table.push(vec![
            Cell::text(&format!(
                "{}: time on load without a move, 100·T/(T + t)",
                place_words(&c.place)
            )),
            Cell::number_or(
                idle.map(|p| Measured::exact(p, Unit::Percent)),
                "no half hour without a move",
            ),
        ]);
    }
    table
}
