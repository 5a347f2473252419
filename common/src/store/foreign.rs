//! Whether the schema in a file is the one that seepd makes, and nothing more.

use super::error::{Doing, Reading};
use super::schema::{STEPS, quoted, tables};
use super::{SCHEMA_VERSION, StoreError};
use rusqlite::Connection;
use std::path::Path;

/// The one view of a log.
const VIEW: &str = "reading";

/// An entry of the schema.
struct Entry {
    kind: String,
    name: String,
    table: String,
    sql: Option<String>,
}

/// Refuse a log with a trigger, a view, an index or a table definition that is
/// not of seepd's making: they could swallow rows, run for ever or fill the
/// memory.
///
/// # Errors
/// [`StoreError::Trap`] names the entry and says how to remove it.
pub(super) fn check_schema(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let entries = entries(connection).reading(path, "reading the schema")?;
    let version: i64 = connection
        .query_row("PRAGMA user_version", [], |row| row.get(0))
        .doing(path, "reading the schema")?;
    let own = own_tables(version).doing(path, "reading the schema")?;
    for entry in &entries {
        if let Some(what) = foreign(entry, &own) {
            return Err(StoreError::Trap {
                path: path.into(),
                what,
            });
        }
    }
    Ok(())
}

/// The schema as it is stored.
fn entries(connection: &Connection) -> rusqlite::Result<Vec<Entry>> {
    connection
        .prepare("SELECT type, name, tbl_name, sql FROM sqlite_schema")?
        .query_map([], |row| {
            Ok(Entry {
                kind: row.get(0)?,
                name: row.get(1)?,
                table: row.get(2)?,
                sql: row.get(3)?,
            })
        })?
        .collect()
}

/// Name and definition of every table of a version, as this program makes them.
fn own_tables(version: i64) -> rusqlite::Result<Vec<(String, String)>> {
    let fresh = Connection::open_in_memory()?;
    let steps = usize::try_from(version).unwrap_or(0).min(STEPS.len());
    for step in &STEPS[..steps] {
        fresh.execute_batch(step)?;
    }
    let made = entries(&fresh)?;
    Ok(made
        .into_iter()
        .filter(|e| e.kind == "table")
        .filter_map(|e| e.sql.map(|sql| (e.name, sql)))
        .collect())
}

/// What is wrong with an entry; `None` when it belongs into a log.
fn foreign(entry: &Entry, own: &[(String, String)]) -> Option<String> {
    let is_ours = |name: &str| tables(SCHEMA_VERSION).any(|t| t.eq_ignore_ascii_case(name));
    let name = &entry.name;
    let remove = |kind: &str| {
        format!(
            "its {kind} `{name}` is not seepd's (remove it with `DROP {} {}`)",
            kind.to_uppercase(),
            quoted(name)
        )
    };
    match entry.kind.as_str() {
        "trigger" => Some(remove("trigger")),
        "view" if name == VIEW => None,
        "view" => Some(remove("view")),
        // An index without text is SQLite's own, for a UNIQUE column.
        "index" if entry.sql.is_some() && is_ours(&entry.table) => Some(remove("index")),
        "table" if is_ours(name) => {
            let made = own.iter().find(|(n, _)| n == name).map(|(_, sql)| sql);
            let same = match (made, &entry.sql) {
                (Some(made), Some(sql)) if name == "tick" => is_tick_table(made, sql),
                (Some(made), Some(sql)) => made == sql,
                _ => false,
            };
            (!same).then(|| format!("its table `{name}` is not as seepd makes it"))
        }
        _ => None,
    }
}

/// The tick table as it is made, with whole-number columns added to it.
fn is_tick_table(made: &str, sql: &str) -> bool {
    let Some(body) = made.strip_suffix(')') else {
        return false;
    };
    let Some(mut rest) = sql.strip_prefix(body).and_then(|r| r.strip_suffix(')')) else {
        return false;
    };
    while !rest.is_empty() {
        let column = rest
            .strip_prefix(", \"")
            .and_then(|r| end_of_name(r))
            .and_then(|r| r.strip_prefix(" INTEGER"));
        match column {
            Some(after) => rest = after,
            None => return false,
        }
    }
    true
}

/// What follows a quoted name; a doubled quote belongs to the name.
fn end_of_name(text: &str) -> Option<&str> {
    let mut from = 0;
    loop {
        let at = from + text.get(from..)?.find('"')?;
        let after = text.get(at + 1..)?;
        match after.strip_prefix('"') {
            Some(_) => from = at + 2,
            None => return Some(after),
        }
    }
}

#[cfg(test)]
mod tests;
