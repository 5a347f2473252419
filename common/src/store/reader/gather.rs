//! Rows gathered into columns while SQLite steps through them: an aggregate
//! function takes each row's values where they are, which costs less than half
//! of handing every row out and asking for its columns one by one.

use super::super::schema::quoted;
use super::super::{Columns, StoredChannel};
use crate::time::LogMs;
use rusqlite::functions::{Aggregate, Context, FunctionFlags};
use rusqlite::types::{Null, ValueRef};
use rusqlite::{Connection, Result};
use std::sync::{Arc, Mutex, PoisonError};

/// Stored columns taken by one call; far below the arguments that SQLite allows
/// a function. A log with more is gathered by several calls side by side.
const MOST_COLUMNS: usize = 100;

/// What is gathered of one name: its values, and the resolutions of the stored
/// columns that hold it.
#[derive(Debug, Clone, Default)]
struct Column {
    resolutions: Vec<f64>,
    values: Vec<f32>,
}

#[derive(Debug, Clone, Default)]
struct Gathered {
    t_ms: Vec<i64>,
    columns: Vec<Column>,
}

/// The function: begins with its columns empty, leaves them full.
struct Gather {
    empty: Gathered,
    full: Arc<Mutex<Gathered>>,
}

impl Aggregate<Gathered, Null> for Gather {
    fn init(&self, _: &mut Context<'_>) -> Result<Gathered> {
        Ok(self.empty.clone())
    }

    fn step(&self, row: &mut Context<'_>, gathered: &mut Gathered) -> Result<()> {
        gathered.t_ms.push(row.get(0)?);
        let mut position = 0;
        for column in &mut gathered.columns {
            let mut value = f32::NAN;
            for resolution in &column.resolutions {
                position += 1;
                // Anything but an integer is no reading: a foreign hand wrote it.
                if let ValueRef::Integer(count) = row.get_raw(position) {
                    value = (count as f64 * resolution) as f32;
                }
            }
            column.values.push(value);
        }
        Ok(())
    }

    fn finalize(&self, _: &mut Context<'_>, gathered: Option<Gathered>) -> Result<Null> {
        let mut full = self.full.lock().unwrap_or_else(PoisonError::into_inner);
        *full = gathered.unwrap_or_else(|| self.empty.clone());
        Ok(Null)
    }
}

/// Readings of the names over `[from_t_ms, to_t_ms)`; see
/// [`Reader::columns`](super::Reader::columns).
pub(super) fn columns(
    connection: &Connection,
    stored: &[StoredChannel],
    names: &[&str],
    from_t_ms: LogMs,
    to_t_ms: LogMs,
) -> Result<Columns> {
    let mut calls = Vec::new();
    let mut select = Vec::new();
    for part in parts(stored, names) {
        let (arguments, full) = call(connection, calls.len(), stored, part)?;
        select.push(arguments);
        calls.push(full);
    }
    // The key of the table is its time: a range of it is gone through in order.
    let select = format!(
        "SELECT {} FROM tick WHERE t_ms >= ?1 AND t_ms < ?2",
        select.join(", ")
    );
    connection.query_row(&select, [from_t_ms, to_t_ms], |_| Ok(()))?;
    let mut out = Columns {
        names: names.iter().map(|n| (*n).to_string()).collect(),
        ..Columns::default()
    };
    for full in calls {
        let full = std::mem::take(&mut *full.lock().unwrap_or_else(PoisonError::into_inner));
        out.t_ms = full.t_ms;
        out.values
            .extend(full.columns.into_iter().map(|c| c.values));
    }
    Ok(out)
}

/// The names, cut so that each part has few enough stored columns.
fn parts<'a>(stored: &[StoredChannel], names: &'a [&'a str]) -> Vec<&'a [&'a str]> {
    let mut out = Vec::new();
    let (mut first, mut taken) = (0, 0);
    for (i, name) in names.iter().enumerate() {
        let own = stored.iter().filter(|c| c.name == *name).count();
        if taken + own > MOST_COLUMNS && i > first {
            out.push(&names[first..i]);
            (first, taken) = (i, 0);
        }
        taken += own;
    }
    out.push(&names[first..]);
    out
}

/// Make one function; its call, and where it leaves what it has gathered.
fn call(
    connection: &Connection,
    number: usize,
    stored: &[StoredChannel],
    names: &[&str],
) -> Result<(String, Arc<Mutex<Gathered>>)> {
    let function = format!("gather_{number}");
    let mut call = format!("{function}(t_ms");
    let mut empty = Gathered::default();
    for name in names {
        let own = || stored.iter().filter(|c| c.name == *name);
        for channel in own() {
            call.push_str(", ");
            call.push_str(&quoted(&channel.column));
        }
        empty.columns.push(Column {
            resolutions: own().map(|c| c.resolution).collect(),
            values: Vec::new(),
        });
    }
    call.push(')');
    let full = Arc::new(Mutex::new(Gathered::default()));
    let gather = Gather {
        empty,
        full: Arc::clone(&full),
    };
    // Only a query of ours may call it, never something that stands in the file.
    let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DIRECTONLY;
    connection.create_aggregate_function(function.as_str(), -1, flags, gather)?;
    Ok((call, full))
}
