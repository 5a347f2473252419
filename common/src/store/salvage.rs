//! Copying what can be read of a damaged log into a new one.

mod ranges;

use super::cause::UNREADABLE;
use super::error::Doing;
use super::inspect::tick_columns;
use super::open::{migrate, pragma, read_only_as_is};
use super::rows::Gap;
use super::schema::{quoted, tables};
use super::whole_copy::make_whole;
use super::{StoreError, writer};
use ranges::{Copied, copy_table};
use rusqlite::{Connection, params};
use std::path::Path;

/// Origin of a session made up for ticks whose own session row was lost.
const ORIGIN_LOST: &str = "salvaged; its session row was not readable";

/// What was saved.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Salvaged {
    /// Per table: rows copied, and stretches of its key that could not be read.
    pub tables: Vec<(String, u64, usize)>,
    /// Stretches of log time whose ticks are lost; each is a gap in the new log.
    pub lost: Vec<(i64, i64)>,
    /// Sessions made up for ticks without one.
    pub sessions_added: u64,
}

/// Copy what can be read of `from` into the new log `to`.
///
/// The old file is opened for reading only. What cannot be read becomes a gap
/// with the cause [`UNREADABLE`], so that no report takes it for silence.
///
/// # Errors
/// [`StoreError::Exists`] when `to` is there; [`StoreError`] when the old file
/// is no log or its list of tables cannot be read; the file system's errors.
/// On error no `to` is left behind.
pub fn salvage(from: &Path, to: &Path) -> Result<Salvaged, StoreError> {
    let (old, _scratch) = read_only_as_is(from)?;
    let version = pragma(&old, from, "user_version")?;
    let columns = tick_columns(&old).doing(from, "reading the list of channels")?;
    make_whole(to, "creating the new log", |part| {
        fill(&old, version, &columns, part)
    })
}

fn fill(
    old: &Connection,
    version: i64,
    columns: &[String],
    part: &Path,
) -> Result<Salvaged, StoreError> {
    let mut new = Connection::open(part).doing(part, "creating the new log")?;
    new.execute_batch(
        "PRAGMA auto_vacuum = INCREMENTAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = OFF;",
    )
    .doing(part, "creating the new log")?;
    migrate(&mut new, part)?;
    let transaction = new.transaction().doing(part, "copying")?;
    for column in columns {
        transaction
            .execute_batch(&format!(
                "ALTER TABLE tick ADD COLUMN {} INTEGER",
                quoted(column)
            ))
            .doing(part, "copying channels")?;
    }
    let mut out = Salvaged::default();
    for table in tables(version) {
        let key = if table == "tick" { "t_ms" } else { "id" };
        let landmarks = landmarks(&transaction, table).doing(part, "copying")?;
        let copied =
            copy_table(old, &transaction, table, key, &landmarks).doing(part, "copying")?;
        note(&mut out, table, &copied);
    }
    clip_to_sessions(&transaction, &mut out.lost).doing(part, "noting what is lost")?;
    for &(from_t_ms, to_t_ms) in &out.lost {
        insert_gap(&transaction, from_t_ms, to_t_ms).doing(part, "noting what is lost")?;
    }
    out.sessions_added = adopt(&transaction).doing(part, "giving ticks a session")?;
    writer::renew_view(&transaction, part)?;
    transaction.commit().doing(part, "copying")?;
    new.close().map_err(|(_, e)| e).doing(part, "closing")?;
    Ok(out)
}

/// Keys where rows are likely: session bounds for ticks, small numbers for ids.
fn landmarks(new: &Connection, table: &str) -> rusqlite::Result<Vec<i64>> {
    if table != "tick" {
        return Ok(vec![0, 1 << 10, 1 << 16, 1 << 24]);
    }
    let mut out = Vec::new();
    let mut statement = new.prepare("SELECT start_t_ms, end_t_ms FROM session")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        out.push(row.get(0)?);
        out.extend(row.get::<_, Option<i64>>(1)?.map(|t| t.saturating_add(1)));
    }
    Ok(out)
}

/// Lost stretches inside the recorded time; before and after it there was
/// nothing to lose.
fn clip_to_sessions(new: &Connection, lost: &mut Vec<(i64, i64)>) -> rusqlite::Result<()> {
    let (first, last): (Option<i64>, Option<i64>) = new.query_row(
        "SELECT min(t), max(t) FROM (SELECT start_t_ms AS t FROM session
           UNION ALL SELECT end_t_ms FROM session UNION ALL SELECT min(t_ms) FROM tick
           UNION ALL SELECT max(t_ms) FROM tick)",
        [],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    let (Some(first), Some(last)) = (first, last) else {
        lost.clear();
        return Ok(());
    };
    for stretch in lost.iter_mut() {
        *stretch = (stretch.0.max(first), stretch.1.min(last.saturating_add(1)));
    }
    lost.retain(|s| s.0 < s.1);
    Ok(())
}

fn note(out: &mut Salvaged, table: &str, copied: &Copied) {
    out.tables
        .push((table.to_string(), copied.rows, copied.lost.len()));
    if table == "tick" {
        out.lost.clone_from(&copied.lost);
    }
}

fn insert_gap(new: &Connection, from_t_ms: i64, to_t_ms: i64) -> rusqlite::Result<()> {
    let gap = Gap {
        from_t_ms,
        to_t_ms,
        cause: UNREADABLE.into(),
        what: None,
    };
    new.execute(
        "INSERT INTO gap(from_t_ms, to_t_ms, cause, what) VALUES (?1, ?2, ?3, ?4)",
        params![gap.from_t_ms, gap.to_t_ms, gap.cause, gap.what],
    )?;
    Ok(())
}

/// A session for every stretch of ticks that has none, in the place in the
/// order where the lost row was: sessions are read in the order of their ids.
fn adopt(new: &Connection) -> rusqlite::Result<u64> {
    let rig: Option<i64> = new.query_row("SELECT min(id) FROM rig", [], |row| row.get(0))?;
    let Some(rig) = rig else { return Ok(0) };
    let known: Vec<(i64, i64, Option<i64>)> = new
        .prepare("SELECT id, start_t_ms, end_t_ms FROM session ORDER BY id")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let mut added = 0;
    let mut after = (0_i64, i64::MIN);
    let ends = known
        .iter()
        .copied()
        .chain(std::iter::once((i64::MAX, i64::MAX, None)));
    for (id, start, end) in ends {
        // An id must be free between the neighbours for the order to hold.
        let room = id.saturating_sub(after.0) > 1;
        let span: (Option<i64>, Option<i64>) = new.query_row(
            "SELECT min(t_ms), max(t_ms) FROM tick WHERE t_ms > ?1 AND t_ms < ?2",
            [after.1, start],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )?;
        if let ((Some(first), Some(last)), true) = (span, room) {
            new.execute(
                "INSERT INTO session(id, boot_id, start_t_ms, end_t_ms, program, origin, rig_id)
                 VALUES (?1, 'unknown', ?2, ?3, 'unknown', ?4, ?5)",
                params![after.0 + 1, first, last, ORIGIN_LOST, rig],
            )?;
            added += 1;
        }
        // A session that never noted its end owns all up to the next one.
        after = (id, end.unwrap_or(i64::MAX));
    }
    Ok(added)
}

#[cfg(test)]
mod tests;
