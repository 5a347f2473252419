//! Rows beside the ticks of a batch.

use super::super::StoreError;
use super::super::error::Doing;
use super::super::rows::{Batch, SessionId};
use rusqlite::{Transaction, params};
use std::path::Path;

pub(super) fn insert_small_rows(
    transaction: &Transaction,
    path: &Path,
    session: SessionId,
    batch: &Batch,
) -> Result<(), StoreError> {
    each(
        transaction,
        "INSERT INTO event(t_ms, kind, place, state, wired) VALUES (?1, ?2, ?3, ?4, ?5)",
        &batch.events,
        |insert, e| insert.execute(params![e.t_ms, e.kind.word(), e.place, e.on, e.wired]),
    )
    .doing(path, "storing events")?;
    each(
        transaction,
        "INSERT INTO gap(from_t_ms, to_t_ms, cause, what) VALUES (?1, ?2, ?3, ?4)",
        &batch.gaps,
        |insert, g| insert.execute(params![g.from_t_ms, g.to_t_ms, g.cause, g.what]),
    )
    .doing(path, "storing gaps")?;
    each(
        transaction,
        "INSERT INTO counter(t_ms, name, source, count) VALUES (?1, ?2, ?3, ?4)",
        &batch.counters,
        |insert, c| insert.execute(params![c.t_ms, c.name, c.source, c.count]),
    )
    .doing(path, "storing counters")?;
    each(
        transaction,
        "INSERT INTO notice(t_ms, source, text) VALUES (?1, ?2, ?3)",
        &batch.notices,
        |insert, n| insert.execute(params![n.t_ms, n.source, n.text]),
    )
    .doing(path, "storing notices")?;
    each(
        transaction,
        "INSERT INTO clock(session_id, noted_t_ms, from_t_ms, offset_ms, state)
         VALUES (?1, ?2, ?3, ?4, ?5)",
        &batch.clock,
        |insert, c| {
            let state = c.state.word();
            insert.execute(params![
                session.0,
                c.noted_t_ms,
                c.from_t_ms,
                c.offset_ms,
                state
            ])
        },
    )
    .doing(path, "storing the clock")
}

/// Store each row by one statement, prepared only when there is a row.
fn each<T>(
    transaction: &Transaction,
    sql: &str,
    rows: &[T],
    store: impl Fn(&mut rusqlite::Statement, &T) -> rusqlite::Result<usize>,
) -> rusqlite::Result<()> {
    if rows.is_empty() {
        return Ok(());
    }
    let mut insert = transaction.prepare(sql)?;
    for row in rows {
        store(&mut insert, row)?;
    }
    Ok(())
}
