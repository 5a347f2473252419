//! Rows beside the ticks of a batch.

use super::super::StoreError;
use super::super::error::Doing;
use super::super::rows::{Batch, ClockRow, SessionId};
use rusqlite::params;
use std::path::Path;

pub(super) fn insert_small_rows(
    transaction: &rusqlite::Transaction,
    path: &Path,
    session: SessionId,
    batch: &Batch,
) -> Result<(), StoreError> {
    for e in &batch.events {
        transaction
            .execute(
                "INSERT INTO event(t_ms, kind, place, state, wired) VALUES (?1, ?2, ?3, ?4, ?5)",
                params![e.t_ms, e.kind.word(), e.place, e.on, e.wired],
            )
            .doing(path, "storing events")?;
    }
    for g in &batch.gaps {
        transaction
            .execute(
                "INSERT INTO gap(from_t_ms, to_t_ms, cause, what) VALUES (?1, ?2, ?3, ?4)",
                params![g.from_t_ms, g.to_t_ms, g.cause, g.what],
            )
            .doing(path, "storing gaps")?;
    }
    for c in &batch.counters {
        transaction
            .execute(
                "INSERT INTO counter(t_ms, name, source, count) VALUES (?1, ?2, ?3, ?4)",
                params![c.t_ms, c.name, c.source, c.count],
            )
            .doing(path, "storing counters")?;
    }
    for n in &batch.notices {
        transaction
            .execute(
                "INSERT INTO notice(t_ms, source, text) VALUES (?1, ?2, ?3)",
                params![n.t_ms, n.source, n.text],
            )
            .doing(path, "storing notices")?;
    }
    for row in &batch.clock {
        insert_clock(transaction, path, session, row)?;
    }
    Ok(())
}

fn insert_clock(
    transaction: &rusqlite::Transaction,
    path: &Path,
    session: SessionId,
    row: &ClockRow,
) -> Result<(), StoreError> {
    transaction
        .execute(
            "INSERT INTO clock(session_id, noted_t_ms, from_t_ms, offset_ms, state)
             VALUES (?1, ?2, ?3, ?4, ?5)",
            params![
                session.0,
                row.noted_t_ms,
                row.from_t_ms,
                row.offset_ms,
                row.state.word()
            ],
        )
        .doing(path, "storing the clock")?;
    Ok(())
}
