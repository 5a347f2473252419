//! Looking a log over: damage, order, holes. Reads only, whatever it meets.

use super::StoreError;
use super::file_state::FileState;
use super::hash::sha256_hex;
use super::holes::unexplained;
use super::open::{check_identity, read_only_as_is};
use super::readable::read_through;
use super::schema::{self, quoted};
use super::wal::wal_path;
use super::wal_owner::is_foreign_wal;
use rusqlite::Connection;
use std::path::Path;
use std::time::Duration;

/// Complaints and holes listed one by one at most.
const MOST_LISTED: usize = 100;

/// What a look at the whole file found.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Inspection {
    /// What SQLite's integrity check complains of; empty for a sound file.
    pub damage: Vec<String>,
    /// Faults of order that SQLite cannot know: a hash that does not fit, a
    /// value that is no number, ticks outside any session.
    pub disorder: Vec<String>,
    /// Rows per table, as far as they could be counted.
    pub rows: Vec<(String, Result<u64, String>)>,
    /// Stretches inside sessions longer than the limit without any tick and
    /// without a gap row that gives a cause: from and to, log time, ms.
    pub unexplained_holes: Vec<(i64, i64)>,
    /// Bytes waiting in the write-ahead log beside the file.
    pub pending_bytes: u64,
    /// Size of the file, bytes.
    pub file_bytes: u64,
}

impl Inspection {
    /// True when nothing is damaged and nothing is out of order.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.damage.is_empty() && self.disorder.is_empty()
    }
}

/// Look a log over; `hole_ms` is the shortest unexplained silence to report.
///
/// The file is opened for reading only and is never changed. Damage is a
/// result, not an error.
///
/// # Errors
/// [`StoreError`] when the file is missing, no log at all, or cannot be opened.
pub fn inspect(path: &Path, hole_ms: i64) -> Result<Inspection, StoreError> {
    let mut before = FileState::of(path);
    let mut seen = inspect_once(path, hole_ms);
    for look in 1..MOST_LOOKS {
        if !says_damage(&seen) {
            break;
        }
        std::thread::sleep(BETWEEN_LOOKS * look);
        seen = inspect_once(path, hole_ms);
        let now = FileState::of(path);
        // Two looks at a file that nobody changed agree.
        if now == before {
            break;
        }
        before = now;
    }
    seen
}

/// A recorder that starts, stops or copies its write-ahead log into the file
/// while that is read can make a sound log look damaged: the worst is said only
/// after another look. This many looks at most, with pauses that grow.
const MOST_LOOKS: u32 = 8;
const BETWEEN_LOOKS: Duration = Duration::from_millis(50);

fn says_damage(seen: &Result<Inspection, StoreError>) -> bool {
    match seen {
        Ok(seen) => !seen.is_sound(),
        Err(StoreError::NotFound { .. } | StoreError::NotAllowed { .. }) => false,
        Err(_) => true,
    }
}

fn inspect_once(path: &Path, hole_ms: i64) -> Result<Inspection, StoreError> {
    let (connection, _scratch) = read_only_as_is(path)?;
    let mut out = Inspection {
        file_bytes: std::fs::metadata(path).map_or(0, |m| m.len()),
        pending_bytes: std::fs::metadata(wal_path(path)).map_or(0, |m| m.len()),
        ..Inspection::default()
    };
    let version = check_identity(&connection, path)?;
    out.damage = integrity(&connection);
    if is_foreign_wal(path) {
        out.damage.push(
            "the write-ahead log beside it belongs to another log and hides what this one \
             holds: move it away before anything opens the log"
                .into(),
        );
    }
    count_rows(&connection, version, &mut out);
    for check in [
        rigs_unchanged,
        columns_present,
        only_numbers,
        sessions_in_order,
        ticks_in_sessions,
        clock_rows_known,
        gaps_in_order,
    ] {
        match check(&connection) {
            Ok(found) => out.disorder.extend(found),
            // Unreadable: the damage list says so already, unless it is empty.
            Err(e) if out.damage.is_empty() => out.damage.push(e.to_string()),
            Err(_) => {}
        }
    }
    if !out.damage.is_empty()
        && let Err(e) = read_through(path)
    {
        out.damage.insert(0, e.to_string());
    }
    out.unexplained_holes = unexplained(&connection, hole_ms, MOST_LISTED).unwrap_or_default();
    Ok(out)
}

/// SQLite's own words on the file's structure.
fn integrity(connection: &Connection) -> Vec<String> {
    let said = connection
        .prepare(&format!("PRAGMA integrity_check({MOST_LISTED})"))
        .and_then(|mut s| {
            s.query_map([], |row| row.get::<_, String>(0))?
                .collect::<rusqlite::Result<Vec<String>>>()
        });
    match said {
        Ok(lines) => lines
            .iter()
            .flat_map(|l| l.lines())
            .filter(|l| *l != "ok" && !l.starts_with("*** in database"))
            .map(str::to_string)
            .collect(),
        Err(e) => vec![e.to_string()],
    }
}

fn count_rows(connection: &Connection, version: i64, out: &mut Inspection) {
    for table in schema::tables(version) {
        let counted = connection
            .query_row(&format!("SELECT count(*) FROM {table}"), [], |row| {
                row.get::<_, i64>(0)
            })
            .map(|n| u64::try_from(n).unwrap_or(0))
            .map_err(|e| e.to_string());
        if let Err(e) = &counted
            && out.damage.is_empty()
        {
            out.damage.push(format!("table {table}: {e}"));
        }
        out.rows.push((table.to_string(), counted));
    }
}

type Found = rusqlite::Result<Vec<String>>;

/// The rig texts still have the hashes they were stored under.
fn rigs_unchanged(connection: &Connection) -> Found {
    let mut statement = connection.prepare("SELECT id, sha256, toml FROM rig ORDER BY id")?;
    let rows = statement.query_map([], |row| {
        Ok((
            row.get::<_, i64>(0)?,
            row.get::<_, String>(1)?,
            row.get::<_, String>(2)?,
        ))
    })?;
    let mut out = Vec::new();
    for row in rows {
        let (id, sha256, toml) = row?;
        if sha256_hex(&toml) != sha256 {
            out.push(format!(
                "rig {id} is not the text it was stored as: its hash does not fit"
            ));
        }
    }
    Ok(out)
}

/// Every channel has its column.
fn columns_present(connection: &Connection) -> Found {
    let columns = tick_columns(connection)?;
    let mut statement = connection.prepare("SELECT column_name FROM channel ORDER BY id")?;
    let names = statement.query_map([], |row| row.get::<_, String>(0))?;
    let mut out = Vec::new();
    for name in names {
        let name = name?;
        if !columns.contains(&name) {
            out.push(format!("channel column `{name}` is missing from the ticks"));
        }
    }
    Ok(out)
}

/// Columns of the tick table without the time.
pub(super) fn tick_columns(connection: &Connection) -> rusqlite::Result<Vec<String>> {
    connection
        .prepare("SELECT name FROM pragma_table_info('tick') WHERE name <> 't_ms' ORDER BY cid")?
        .query_map([], |row| row.get(0))?
        .collect()
}

/// Ticks hold whole numbers and nothing else.
fn only_numbers(connection: &Connection) -> Found {
    let columns = tick_columns(connection)?;
    if columns.is_empty() {
        return Ok(Vec::new());
    }
    let sums: Vec<String> = columns
        .iter()
        .map(|c| format!("sum(typeof({}) NOT IN ('integer', 'null'))", quoted(c)))
        .collect();
    let counts: Vec<i64> = connection.query_row(
        &format!("SELECT {} FROM tick", sums.join(", ")),
        [],
        |row| {
            (0..columns.len())
                .map(|i| row.get::<_, Option<i64>>(i).map(Option::unwrap_or_default))
                .collect()
        },
    )?;
    Ok(columns
        .iter()
        .zip(counts)
        .filter(|(_, n)| *n > 0)
        .map(|(column, n)| {
            format!("{n} values of `{column}` are no whole numbers and are not read")
        })
        .collect())
}

fn sessions_in_order(connection: &Connection) -> Found {
    lines(
        connection,
        "SELECT 'session ' || id || ' ends before it starts' FROM session
           WHERE end_t_ms < start_t_ms
         UNION ALL
         SELECT 'session ' || n.id || ' starts before session ' || s.id || ' ends'
           FROM session s JOIN session n
             ON n.id = (SELECT min(id) FROM session WHERE id > s.id)
           WHERE n.start_t_ms <= s.end_t_ms
         UNION ALL
         SELECT 'session ' || id || ' names a rig that is not stored' FROM session
           WHERE rig_id NOT IN (SELECT id FROM rig)",
    )
}

fn ticks_in_sessions(connection: &Connection) -> Found {
    lines(
        connection,
        "SELECT count(*) || ' ticks lie outside every session' FROM tick
           WHERE t_ms < (SELECT min(start_t_ms) FROM session)
              OR NOT EXISTS (SELECT 1 FROM session)
           HAVING count(*) > 0
         UNION ALL
         SELECT (SELECT count(*) FROM tick t WHERE t.t_ms > s.end_t_ms AND t.t_ms <
                  coalesce((SELECT start_t_ms FROM session WHERE id > s.id ORDER BY id LIMIT 1),
                           9223372036854775807)) || ' ticks lie after the end of session ' || s.id
           FROM session s WHERE s.end_t_ms IS NOT NULL AND EXISTS
             (SELECT 1 FROM tick t WHERE t.t_ms > s.end_t_ms AND t.t_ms <
                coalesce((SELECT start_t_ms FROM session WHERE id > s.id ORDER BY id LIMIT 1),
                         9223372036854775807))",
    )
}

/// A session that lost power before its first commit has no clock record yet, and
/// no tick that would need one.
fn clock_rows_known(connection: &Connection) -> Found {
    lines(
        connection,
        "SELECT 'session ' || id || ' has no clock record: its wall times are those of the session before'
           FROM session s WHERE id NOT IN (SELECT session_id FROM clock) AND EXISTS
             (SELECT 1 FROM tick t WHERE t.t_ms >= s.start_t_ms AND t.t_ms <
                coalesce((SELECT start_t_ms FROM session WHERE id > s.id ORDER BY id LIMIT 1),
                         9223372036854775807))",
    )
}

fn gaps_in_order(connection: &Connection) -> Found {
    lines(
        connection,
        "SELECT 'gap ' || id || ' ends before it starts' FROM gap WHERE to_t_ms < from_t_ms",
    )
}

fn lines(connection: &Connection, sql: &str) -> Found {
    connection
        .prepare(sql)?
        .query_map([], |row| row.get(0))?
        .take(MOST_LISTED)
        .collect()
}
