//! The data's health as tables, the same in every renderer.

use crate::model::{
    Cell, ClockState, Column, Counter, DataHealth, GapRow, SessionRow, Table, Unit,
};

use super::units::DisplayUnits;
use super::words;
use seep_common::store::Counter as Stored;

/// Sessions, gaps and counters; a table without rows is left out.
pub(crate) fn tables(health: &DataHealth) -> Vec<Table> {
    [
        sessions(&health.sessions),
        gaps(&health.gaps),
        counters(
            &health.counters,
            false,
            "lost",
            "Lost, bad or refused on the way",
        ),
        counters(&health.counters, true, "work", "What came in"),
    ]
    .into_iter()
    .filter(|t| !t.rows.is_empty())
    .collect()
}

/// Sentences above the tables.
pub(crate) fn sentences(health: &DataHealth, units: DisplayUnits) -> Vec<String> {
    let mut out = vec![coverage(health), clock(health, units)];
    if health.gaps.is_empty() && health.gaps_left_off == 0 {
        out.push("No gap in the span.".to_string());
    }
    if health.gaps_left_off > 0 {
        out.push(format!("Gaps not listed: {}.", health.gaps_left_off));
    }
    let silent = health.counters.iter().filter(|c| c.count == 0).count();
    if silent > 0 {
        out.push(format!("Counters at zero: {silent}."));
    }
    out.extend(health.notes.iter().map(|n| words::text(n, units)));
    out
}

fn coverage(health: &DataHealth) -> String {
    format!(
        "Recorded {} of {}: coverage {}.",
        super::scale::duration(health.recorded_s),
        super::scale::duration(health.span_s),
        words::share(health.coverage)
    )
}

fn clock(health: &DataHealth, units: DisplayUnits) -> String {
    let clock = &health.clock;
    let within = match clock.within_s {
        Some(s) if s >= 0.5 => format!(", wall times within {}", super::scale::duration(s)),
        Some(_) => String::new(),
        None if clock.state == ClockState::Unsynced => ", wall times not known".to_string(),
        None => String::new(),
    };
    let remark = (clock.remark.as_ref())
        .map(|r| format!(" {}", words::text(r, units)))
        .unwrap_or_default();
    format!("Clock {}{within}.{remark}", clock.state.word())
}

fn sessions(rows: &[SessionRow]) -> Table {
    let mut table = Table::new(
        "sessions",
        "Sessions: each power-on of the recorder",
        vec![
            Column::number("session", Unit::Count),
            Column::text("from"),
            Column::text("to"),
            Column::number("ticks", Unit::Count),
            Column::text("ended by"),
            Column::text("clock"),
        ],
    );
    for row in rows.iter().rev() {
        table.push(vec![
            Cell::count(row.number),
            row.from.clone().into(),
            row.to.clone().into(),
            row.ticks
                .map_or_else(|| Cell::missing("not counted"), Cell::count),
            row.ended_by.clone().into(),
            row.clock.word().into(),
        ]);
    }
    table
}

fn gaps(rows: &[GapRow]) -> Table {
    let mut table = Table::new(
        "gaps",
        "Gaps: stretches without data",
        vec![
            Column::text("from"),
            Column::mixed("length"),
            Column::text("cause"),
            Column::text("silent"),
            Column::text("to"),
        ],
    );
    for row in rows.iter().rev() {
        table.push(vec![
            row.from.clone().into(),
            Cell::duration(row.seconds),
            (&row.cause).into(),
            row.channel.clone().unwrap_or_else(|| "all".into()).into(),
            row.to.clone().into(),
        ]);
    }
    table
}

fn counters(rows: &[Counter], work: bool, name: &str, caption: &str) -> Table {
    let mut columns = vec![
        Column::text("counted"),
        Column::text("place"),
        Column::number("count", Unit::Count),
    ];
    let explained = !work && rows.iter().any(|c| c.meaning.is_some());
    if explained {
        columns.push(Column::text("meaning"));
    }
    let mut table = Table::new(name, caption, columns);
    let wanted = |c: &&Counter| c.count > 0 && Stored::is_work(&c.name) == work;
    for row in rows.iter().filter(wanted) {
        let mut cells = vec![
            row.name.clone().into(),
            row.place.clone().into(),
            Cell::count(row.count),
        ];
        if explained {
            cells.push(row.meaning.clone().unwrap_or_default().into());
        }
        table.push(cells);
    }
    table
}
