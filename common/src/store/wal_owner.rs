//! Whether the write-ahead log beside a log is that log's own.

use super::StoreError;
use super::error::Doing;
use super::open::{check_identity, connect, read_only_as_is};
use super::wal::{is_pending, wal_path};
use rusqlite::Connection;
use std::collections::BTreeMap;
use std::path::Path;

/// True when the write-ahead log beside a log belongs to another one.
///
/// SQLite replays any whole write-ahead log of the right name, whichever database
/// it comes from, and so replaces what was recorded. A session keeps its number,
/// its boot and its start for as long as it is in the log: the same number with
/// another boot or start proves that two logs were paired. Two logs without a
/// common session number are not told apart.
///
/// **Source**: SQLite documentation, "How To Corrupt An SQLite Database File", on
/// mispairing database files and hot journals.
pub(super) fn is_foreign_wal(path: &Path) -> bool {
    is_pending(&wal_path(path)) && replaces_sessions(path).unwrap_or(false)
}

fn replaces_sessions(path: &Path) -> Result<bool, StoreError> {
    let alone = connect(path, true)?;
    check_identity(&alone, path)?;
    let own = session_starts(&alone, path)?;
    let (paired, _scratch) = match read_only_as_is(path) {
        Err(StoreError::OtherApplication { .. }) => return Ok(true),
        opened => opened?,
    };
    let seen = session_starts(&paired, path)?;
    let differs = |id: &i64, start: &Start| seen.get(id).is_some_and(|other| other != start);
    Ok(own.iter().any(|(id, start)| differs(id, start)))
}

/// Boot and first log time of a session.
type Start = (String, i64);

fn session_starts(
    connection: &Connection,
    path: &Path,
) -> Result<BTreeMap<i64, Start>, StoreError> {
    connection
        .prepare("SELECT id, boot_id, start_t_ms FROM session")
        .and_then(|mut read| {
            read.query_map([], |row| Ok((row.get(0)?, (row.get(1)?, row.get(2)?))))?
                .collect()
        })
        .doing(path, "comparing the log with its write-ahead log")
}
