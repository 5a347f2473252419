//! The small tables of a log, whole.

use super::super::StoreError;
use super::super::error::Reading;
use super::super::notes::{self, HandReading, Note};
use super::super::rows::{
    ClockRow, ClockState, Counter, EndReason, Event, EventKind, Gap, Notice, Session, SessionId,
    SessionStart, StoredChannel,
};
use super::Reader;
use crate::time::{BootMs, LogMs, WallMs};
use rusqlite::{Params, Row};

/// Times and counts beyond this (in ms, three thousand years) were written by no
/// recorder; sums and differences of those within it do not overflow.
const MOST: i64 = 100_000_000_000_000;

/// Resolutions a rig may give.
const RESOLUTIONS: std::ops::RangeInclusive<f64> = 1e-12..=1e12;

/// Limits of a range a rig may give.
const VALUES: std::ops::RangeInclusive<f64> = -1e12..=1e12;

/// A time or a count.
fn bounded(row: &Row, column: usize) -> rusqlite::Result<i64> {
    let value = row.get(column)?;
    if (-MOST..=MOST).contains(&value) {
        Ok(value)
    } else {
        Err(rusqlite::Error::IntegralValueOutOfRange(column, value))
    }
}

/// The same where there may be none.
fn maybe_bounded(row: &Row, column: usize) -> rusqlite::Result<Option<i64>> {
    match row.get::<_, Option<i64>>(column)? {
        None => Ok(None),
        Some(_) => bounded(row, column).map(Some),
    }
}

/// A number of a channel.
fn of_a_size(
    row: &Row,
    column: usize,
    sizes: std::ops::RangeInclusive<f64>,
) -> rusqlite::Result<f64> {
    let value = row.get(column)?;
    if sizes.contains(&value) {
        Ok(value)
    } else {
        Err(rusqlite::Error::IntegralValueOutOfRange(
            column,
            value as i64,
        ))
    }
}

impl Reader {
    fn list<T>(
        &self,
        sql: &str,
        params: impl Params,
        doing: &'static str,
        row: impl FnMut(&Row) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, StoreError> {
        self.connection
            .prepare(sql)
            .and_then(|mut statement| statement.query_map(params, row)?.collect())
            .reading(&self.path, doing)
    }

    /// First page of the table of readings, and the statement that made the table.
    ///
    /// # Errors
    /// SQLite's errors.
    pub(in crate::store) fn tick_table(&self) -> Result<(u32, String), StoreError> {
        let found = self.list(
            "SELECT rootpage, sql FROM sqlite_schema WHERE type = 'table' AND name = 'tick'",
            [],
            "looking for the table of readings",
            |row| Ok((row.get(0)?, row.get(1)?)),
        )?;
        Ok(found.into_iter().next().unwrap_or_default())
    }

    /// Every session, in the order recorded.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn sessions(&self) -> Result<Vec<Session>, StoreError> {
        let start_boot_ms = if self.version >= 2 {
            "s.start_boot_ms"
        } else {
            "NULL"
        };
        let sql = format!(
            "SELECT s.id, s.boot_id, s.start_t_ms, s.program, s.origin,
                    coalesce(s.end_t_ms,
                      (SELECT max(t_ms) FROM tick WHERE t_ms >= s.start_t_ms AND t_ms <
                        coalesce((SELECT n.start_t_ms FROM session n WHERE n.id > s.id ORDER BY n.id LIMIT 1),
                                 9223372036854775807)),
                      s.start_t_ms),
                    s.end_reason, r.sha256, s.protected, {start_boot_ms}
             FROM session s JOIN rig r ON r.id = s.rig_id ORDER BY s.id"
        );
        self.list(&sql, [], "reading sessions", |row| {
            Ok(Session {
                id: SessionId(row.get(0)?),
                start: SessionStart {
                    boot_id: row.get(1)?,
                    t_ms: LogMs(bounded(row, 2)?),
                    program: row.get(3)?,
                    origin: row.get(4)?,
                    start_boot_ms: maybe_bounded(row, 9)?.map(BootMs),
                },
                end_t_ms: LogMs(bounded(row, 5)?),
                end_reason: row
                    .get::<_, Option<String>>(6)?
                    .and_then(|w| EndReason::from_word(&w)),
                rig_sha256: row.get(7)?,
                protected: row.get(8)?,
            })
        })
    }

    /// Channels and what their columns mean.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn channels(&self) -> Result<Vec<StoredChannel>, StoreError> {
        self.list(
            "SELECT name, column_name, unit, resolution, range_low, range_high, source, decode
             FROM channel ORDER BY id",
            [],
            "reading channels",
            |row| {
                Ok(StoredChannel {
                    name: row.get(0)?,
                    column: row.get(1)?,
                    unit: row.get(2)?,
                    resolution: of_a_size(row, 3, RESOLUTIONS)?,
                    range: (of_a_size(row, 4, VALUES)?, of_a_size(row, 5, VALUES)?),
                    source: row.get(6)?,
                    decode: row.get(7)?,
                })
            },
        )
    }

    /// The rigs recorded with: SHA-256 and TOML, in the order first used.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn rigs(&self) -> Result<Vec<(String, String)>, StoreError> {
        self.list(
            "SELECT sha256, toml FROM rig ORDER BY id",
            [],
            "reading the rig",
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
    }

    /// Clock rows in the order noted.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn clock_rows(&self) -> Result<Vec<ClockRow>, StoreError> {
        self.list(
            "SELECT noted_t_ms, from_t_ms, offset_ms, state FROM clock ORDER BY id",
            [],
            "reading the clock",
            |row| {
                Ok(ClockRow {
                    noted_t_ms: LogMs(bounded(row, 0)?),
                    from_t_ms: LogMs(bounded(row, 1)?),
                    offset_ms: bounded(row, 2)?,
                    state: ClockState::from_word(&row.get::<_, String>(3)?)
                        .unwrap_or(ClockState::Unsynced),
                })
            },
        )
    }

    /// Valve and compressor changes over `[from_t_ms, to_t_ms)`, in time order.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn events(&self, from_t_ms: LogMs, to_t_ms: LogMs) -> Result<Vec<Event>, StoreError> {
        let rows = self.list(
            "SELECT t_ms, kind, place, state, wired FROM event
             WHERE t_ms >= ?1 AND t_ms < ?2 ORDER BY t_ms, id",
            [from_t_ms, to_t_ms],
            "reading events",
            |row| {
                let kind = EventKind::from_word(&row.get::<_, String>(1)?);
                Ok(kind.map(|kind| {
                    Ok::<_, rusqlite::Error>(Event {
                        t_ms: LogMs(bounded(row, 0)?),
                        kind,
                        place: row.get(2)?,
                        on: row.get(3)?,
                        wired: row.get(4)?,
                    })
                }))
            },
        )?;
        rows.into_iter()
            .flatten()
            .collect::<rusqlite::Result<Vec<_>>>()
            .reading(&self.path, "reading events")
    }

    /// Number of ticks over `[from_t_ms, to_t_ms)`.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn ticks_between(&self, from_t_ms: LogMs, to_t_ms: LogMs) -> Result<u64, StoreError> {
        let counted = self.list(
            "SELECT count(*) FROM tick WHERE t_ms >= ?1 AND t_ms < ?2",
            [from_t_ms, to_t_ms],
            "counting ticks",
            |row| row.get::<_, i64>(0),
        )?;
        let n = counted.first().copied().unwrap_or(0);
        Ok(u64::try_from(n).unwrap_or(0))
    }

    /// Gaps that touch `[from_t_ms, to_t_ms)`, in time order.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn gaps(&self, from_t_ms: LogMs, to_t_ms: LogMs) -> Result<Vec<Gap>, StoreError> {
        self.list(
            "SELECT from_t_ms, to_t_ms, cause, what FROM gap
             WHERE to_t_ms > ?1 AND from_t_ms < ?2 ORDER BY from_t_ms, id",
            [from_t_ms, to_t_ms],
            "reading gaps",
            |row| {
                Ok(Gap {
                    from_t_ms: LogMs(bounded(row, 0)?),
                    to_t_ms: LogMs(bounded(row, 1)?),
                    cause: row.get(2)?,
                    what: row.get(3)?,
                })
            },
        )
    }

    /// Counts over `[from_t_ms, to_t_ms)`, summed by name and source.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn counters(&self, from_t_ms: LogMs, to_t_ms: LogMs) -> Result<Vec<Counter>, StoreError> {
        self.list(
            "SELECT max(t_ms), name, source, sum(count) FROM counter
             WHERE t_ms >= ?1 AND t_ms < ?2 GROUP BY name, source ORDER BY name, source",
            [from_t_ms, to_t_ms],
            "reading counters",
            |row| {
                Ok(Counter {
                    t_ms: LogMs(bounded(row, 0)?),
                    name: row.get(1)?,
                    source: row.get(2)?,
                    count: bounded(row, 3)?,
                })
            },
        )
    }

    /// Notices over `[from_t_ms, to_t_ms)`, in time order; none in logs older
    /// than schema 2.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn notices(&self, from_t_ms: LogMs, to_t_ms: LogMs) -> Result<Vec<Notice>, StoreError> {
        if self.version < 2 {
            return Ok(Vec::new());
        }
        self.list(
            "SELECT t_ms, source, text FROM notice
             WHERE t_ms >= ?1 AND t_ms < ?2 ORDER BY t_ms, id",
            [from_t_ms, to_t_ms],
            "reading notices",
            |row| {
                Ok(Notice {
                    t_ms: LogMs(bounded(row, 0)?),
                    source: row.get(1)?,
                    text: row.get(2)?,
                })
            },
        )
    }

    /// Notes of a person, by the time they are about; none in logs older than schema 3.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn notes(&self) -> Result<Vec<Note>, StoreError> {
        if self.version < notes::SINCE_VERSION {
            return Ok(Vec::new());
        }
        self.list(
            "SELECT at_unix_ms, noted_unix_ms, name, value, error, text FROM note
             ORDER BY at_unix_ms, id",
            [],
            "reading notes",
            |row| {
                let name: Option<String> = row.get(2)?;
                let value: Option<f64> = row.get(3)?;
                let error: Option<f64> = row.get(4)?;
                let reading = name.zip(value).zip(error);
                Ok(Note {
                    at_unix_ms: WallMs(bounded(row, 0)?),
                    noted_unix_ms: WallMs(bounded(row, 1)?),
                    reading: reading.map(|((name, value), error)| HandReading {
                        name,
                        value,
                        error,
                    }),
                    text: row.get(5)?,
                })
            },
        )
    }
}
