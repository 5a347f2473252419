//! Columns for the channels of a rig.

use super::super::StoreError;
use super::super::error::Doing;
use super::super::schema::{quoted, reading_view};
use crate::rig::{Channel, Decode, RegisterNumber, RegisterTable, Rig, WordOrder};
use rusqlite::{Transaction, params};
use std::path::Path;

/// Make sure every channel of the rig has a column with its resolution; returns
/// the columns in the rig's order.
pub(super) fn ensure(
    transaction: &Transaction,
    path: &Path,
    rig: &Rig,
) -> Result<Vec<String>, StoreError> {
    let mut columns = Vec::new();
    for channel in &rig.channels {
        let known = find(transaction, path, channel)?;
        columns.push(match known {
            Some(column) => column,
            None => add(transaction, path, rig, channel)?,
        });
    }
    renew_view(transaction, path)?;
    Ok(columns)
}

pub(super) fn insert_statement(columns: &[String]) -> String {
    let names: String = columns.iter().map(|c| format!(", {}", quoted(c))).collect();
    let places: String = (0..columns.len())
        .map(|i| format!(", ?{}", i + 2))
        .collect();
    format!("INSERT INTO tick(t_ms{names}) VALUES (?1{places})")
}

fn find(
    transaction: &Transaction,
    path: &Path,
    channel: &Channel,
) -> Result<Option<String>, StoreError> {
    let mut statement = transaction
        .prepare("SELECT column_name, resolution FROM channel WHERE name = ?1")
        .doing(path, "reading channels")?;
    let rows = statement
        .query_map([&channel.name], |row| {
            Ok((row.get::<_, String>(0)?, row.get::<_, f64>(1)?))
        })
        .doing(path, "reading channels")?;
    for row in rows {
        let (column, resolution) = row.doing(path, "reading channels")?;
        // The very bits: a count must mean what it meant when it was stored.
        if resolution.to_bits() == channel.resolution.to_bits() {
            return Ok(Some(column));
        }
    }
    Ok(None)
}

fn add(
    transaction: &Transaction,
    path: &Path,
    rig: &Rig,
    channel: &Channel,
) -> Result<String, StoreError> {
    let taken: i64 = transaction
        .query_row(
            "SELECT count(*) FROM channel WHERE name = ?1",
            [&channel.name],
            |row| row.get(0),
        )
        .doing(path, "adding a channel")?;
    // A changed resolution gets a column of its own; history is not rescaled.
    let column = if taken == 0 {
        channel.name.clone()
    } else {
        format!("{}__{}", channel.name, taken + 1)
    };
    transaction
        .execute_batch(&format!(
            "ALTER TABLE tick ADD COLUMN {} INTEGER",
            quoted(&column)
        ))
        .doing(path, "adding a channel")?;
    transaction
        .execute(
            "INSERT INTO channel(name, column_name, unit, resolution, range_low, range_high, source, decode)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            params![
                channel.name,
                column,
                channel.quantity.unit(),
                channel.resolution,
                channel.range.0,
                channel.range.1,
                rig.sources[channel.source].name,
                decode_words(&channel.decode),
            ],
        )
        .doing(path, "adding a channel")?;
    Ok(column)
}

/// Write the `reading` view anew for all channels.
pub(in super::super) fn renew_view(
    transaction: &Transaction,
    path: &Path,
) -> Result<(), StoreError> {
    let mut statement = transaction
        .prepare("SELECT name, column_name, resolution FROM channel ORDER BY id")
        .doing(path, "reading channels")?;
    let channels = statement
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .and_then(Iterator::collect::<rusqlite::Result<Vec<(String, String, f64)>>>)
        .doing(path, "reading channels")?;
    transaction
        .execute_batch(&reading_view(&channels))
        .doing(path, "renewing the reading view")
}

fn decode_words(decode: &Decode) -> String {
    match decode {
        Decode::Signal { path } => format!("signal {path}"),
        Decode::Transducer { name } => format!("transducer {name}"),
        Decode::Column { name } => format!("column {name}"),
        Decode::Register {
            register,
            table,
            number,
            word_order,
        } => format!(
            "register {register} {} {}{}",
            match table {
                RegisterTable::Input => "input",
                RegisterTable::Holding => "holding",
            },
            match number {
                RegisterNumber::I16 => "i16",
                RegisterNumber::U16 => "u16",
                RegisterNumber::I32 => "i32",
                RegisterNumber::U32 => "u32",
                RegisterNumber::F32 => "f32",
            },
            match word_order {
                WordOrder::HighFirst => "",
                WordOrder::LowFirst => " low word first",
            }
        ),
    }
}
