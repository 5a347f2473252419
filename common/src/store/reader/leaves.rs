//! Rows read out of the pages of a log, without SQLite: a row costs a fraction of what it
//! costs SQLite to step to it and hand out its columns.
//!
//! SQLite holds its lock meanwhile, so that nobody writes. Where a page is not as it is
//! known to be, or rows wait in a write-ahead log, nothing is read here: SQLite is asked
//! instead, and says what is wrong.
//!
//! **Source**: SQLite file format, section 2.1 (record format); "File Locking And
//! Concurrency In SQLite Version 3", section 3 (a SHARED lock keeps writers out).

use super::super::Columns;
use super::super::pages::{Leaf, Pages, RUN_PAGES};
use super::Reader;
use crate::time::LogMs;
use std::ops::Range;

/// Pages of an open log.
#[derive(Debug)]
pub(super) struct RowLeaves(Pages);

impl RowLeaves {
    /// `None` where they cannot be had.
    pub(super) fn of(reader: &Reader) -> Option<Self> {
        let pages = Pages::open(reader.path())?;
        let are_all = pages.are_of(reader.connection.file()) && pages.none_wait();
        are_all.then_some(RowLeaves(pages))
    }

    /// Readings of the names over a span; see
    /// [`Reader::columns_into`](super::Reader::columns_into).
    pub(super) fn columns(
        &self,
        reader: &Reader,
        room: Columns,
        names: &[&str],
        span: Range<LogMs>,
    ) -> Option<Columns> {
        let lies_still = reader.connection.lies_still();
        if !lies_still && self.0.use_write_ahead_log()? {
            return None;
        }
        // Takes the lock with its first question.
        let _locked = reader.connection.unchecked_transaction().ok()?;
        let root = reader.tick_table().ok()?.0;
        if !self.0.are_as_opened()? || (!lies_still && self.0.use_write_ahead_log()?) {
            return None;
        }
        let table = Table::of(reader, names)?;
        let span = span.start.0..span.end.0;
        let leaves = self.0.leaves(root, span.clone())?;
        let (t_ms, values) = Rows::new(&table, room, span).all(&self.0, &leaves)?;
        Some(Columns {
            t_ms,
            names: names.iter().map(|n| (*n).to_string()).collect(),
            values,
        })
    }
}

/// Where in a row what is asked for stands.
struct Table {
    /// Of each column: what it is for.
    uses: Vec<Vec<Use>>,
    names: usize,
}

/// A column holds readings of a name, in steps of a resolution.
struct Use {
    name: usize,
    resolution: f64,
}

impl Table {
    fn of(reader: &Reader, names: &[&str]) -> Option<Self> {
        let all = reader.connection.prepare("SELECT * FROM tick").ok()?;
        let columns: Vec<&str> = all.column_names().collect();
        let mut uses: Vec<Vec<Use>> = columns.iter().map(|_| Vec::new()).collect();
        let stored = reader.channels().ok()?;
        for (name, asked) in names.iter().enumerate() {
            let mut before = 0;
            for channel in stored.iter().filter(|c| c.name == *asked) {
                let at = columns.iter().position(|c| *c == channel.column)?;
                // Of several columns the last that holds a number counts.
                if at < before {
                    return None;
                }
                before = at;
                let resolution = channel.resolution;
                uses[at].push(Use { name, resolution });
            }
        }
        Some(Table {
            uses,
            names: names.len(),
        })
    }
}

/// Rows while they are gathered.
struct Rows<'a> {
    table: &'a Table,
    span: Range<i64>,
    /// Log time of the row before.
    before: Option<i64>,
    t_ms: Vec<i64>,
    values: Vec<Vec<f32>>,
}

impl<'a> Rows<'a> {
    fn new(table: &'a Table, room: Columns, span: Range<i64>) -> Self {
        let Columns {
            mut t_ms,
            mut values,
            ..
        } = room;
        t_ms.clear();
        values.resize_with(table.names, Vec::new);
        values.iter_mut().for_each(Vec::clear);
        Rows {
            span,
            before: None,
            t_ms,
            values,
            table,
        }
    }

    fn all(mut self, pages: &Pages, leaves: &[Leaf]) -> Option<(Vec<i64>, Vec<Vec<f32>>)> {
        let mut bytes = Vec::new();
        for (i, some) in leaves.chunks(RUN_PAGES).enumerate() {
            pages.read_all(some, &mut bytes)?;
            for (leaf, page) in some.iter().zip(bytes.chunks_exact(pages.page_bytes)) {
                self.add(pages, leaf, page)?;
            }
            if i == 0 {
                // The other leaves hold about as many rows each.
                let more = leaves.len().saturating_sub(RUN_PAGES);
                self.reserve(self.t_ms.len().div_ceil(some.len()) * more);
            }
        }
        Some((self.t_ms, self.values))
    }

    fn reserve(&mut self, more: usize) {
        self.t_ms.reserve(more);
        self.values.iter_mut().for_each(|v| v.reserve(more));
    }

    /// Adds the rows of a leaf within the span; `None` where they are not in order.
    fn add(&mut self, pages: &Pages, leaf: &Leaf, page: &[u8]) -> Option<()> {
        let cells = pages.cells(page)?;
        self.lengthen(self.t_ms.len() + cells.count());
        for i in 0..cells.count() {
            let cell = cells.get(i)?;
            let in_order = self.before.is_none_or(|before| before < cell.t_ms);
            if !in_order || !leaf.may_hold(cell.t_ms) {
                return None;
            }
            self.before = Some(cell.t_ms);
            if self.span.contains(&cell.t_ms) {
                self.read(cell.record)?;
                self.t_ms.push(cell.t_ms);
            }
        }
        self.lengthen(self.t_ms.len());
        Some(())
    }

    /// Makes room for rows, silent as yet, or takes what is too much.
    fn lengthen(&mut self, rows: usize) {
        self.values
            .iter_mut()
            .for_each(|v| v.resize(rows, f32::NAN));
    }

    /// Takes the whole numbers out of the next row; columns that were added after it was
    /// written hold none. `None` of what no recorder writes.
    fn read(&mut self, record: &[u8]) -> Option<()> {
        let row = self.t_ms.len();
        let (size, rest) = record.split_first()?;
        // A longer header begins otherwise.
        let size = usize::from(*size).checked_sub(1).filter(|s| *s < 0x7f)?;
        let (kinds, mut body) = rest.split_at_checked(size)?;
        if kinds.len() > self.table.uses.len() {
            return None;
        }
        for (kind, uses) in kinds.iter().zip(&self.table.uses) {
            let count = match kind {
                0 => continue,
                1 => {
                    let (own, rest) = body.split_first()?;
                    body = rest;
                    f64::from(own.cast_signed())
                }
                2 => {
                    let (own, rest) = body.split_first_chunk()?;
                    body = rest;
                    f64::from(i16::from_be_bytes(*own))
                }
                3..=6 => {
                    let bytes = [3, 4, 6, 8][usize::from(kind - 3)];
                    let (own, rest) = body.split_at_checked(bytes)?;
                    body = rest;
                    signed(own) as f64
                }
                8 => 0.0,
                9 => 1.0,
                _ => return None,
            };
            for own in uses {
                self.values[own.name][row] = (count * own.resolution) as f32;
            }
        }
        body.is_empty().then_some(())
    }
}

/// A whole number of one to eight bytes, the highest first.
fn signed(bytes: &[u8]) -> i64 {
    let first = bytes.first().map_or(0, |b| i64::from(b.cast_signed()));
    let others = bytes.iter().skip(1);
    others.fold(first, |value, byte| value << 8 | i64::from(*byte))
}

#[cfg(test)]
mod tests;
