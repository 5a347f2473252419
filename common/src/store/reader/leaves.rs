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
use super::super::pages::{Leaf, Pages, RUN_PAGES, varint};
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
    columns: usize,
    /// Of each name: columns and their resolutions. The last that holds a number counts.
    sources: Vec<Vec<(usize, f64)>>,
}

impl Table {
    fn of(reader: &Reader, names: &[&str]) -> Option<Self> {
        let all = reader.connection.prepare("SELECT * FROM tick").ok()?;
        let columns: Vec<&str> = all.column_names().collect();
        let stored = reader.channels().ok()?;
        let of_name = |name: &&str| {
            let own = stored.iter().filter(|c| c.name == *name);
            own.map(|channel| {
                let at = columns.iter().position(|c| *c == channel.column)?;
                Some((at, channel.resolution))
            })
            .collect::<Option<Vec<_>>>()
        };
        Some(Table {
            columns: columns.len(),
            sources: names.iter().map(of_name).collect::<Option<_>>()?,
        })
    }
}

/// Rows while they are gathered.
struct Rows<'a> {
    table: &'a Table,
    span: Range<i64>,
    /// Numbers of the row at hand, by column; not a number where it holds none.
    counts: Vec<f64>,
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
        values.resize_with(table.sources.len(), Vec::new);
        values.iter_mut().for_each(Vec::clear);
        Rows {
            span,
            counts: vec![f64::NAN; table.columns],
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
        for i in 0..cells.count() {
            let cell = cells.get(i)?;
            let in_order = self.before.is_none_or(|before| before < cell.t_ms);
            if !in_order || !leaf.may_hold(cell.t_ms) {
                return None;
            }
            self.before = Some(cell.t_ms);
            if !self.span.contains(&cell.t_ms) {
                continue;
            }
            read_record(cell.record, &mut self.counts)?;
            self.t_ms.push(cell.t_ms);
            for (values, sources) in self.values.iter_mut().zip(&self.table.sources) {
                values.push(value(sources, &self.counts));
            }
        }
        Some(())
    }
}

fn value(sources: &[(usize, f64)], counts: &[f64]) -> f32 {
    let mut value = f32::NAN;
    for (column, resolution) in sources {
        let count = counts[*column];
        if !count.is_nan() {
            value = (count * resolution) as f32;
        }
    }
    value
}

/// Takes the whole numbers out of a row; columns that were added after it was written
/// hold none. `None` of what is no row of this table.
fn read_record(record: &[u8], counts: &mut [f64]) -> Option<()> {
    let (header_bytes, size_bytes) = varint(record)?;
    let (header, mut body) = record.split_at_checked(usize::try_from(header_bytes).ok()?)?;
    let mut kinds = header.get(size_bytes..)?;
    let mut column = 0;
    while let Some(first) = kinds.first() {
        let (kind, used) = if *first < 0x80 {
            (i64::from(*first), 1)
        } else {
            varint(kinds)?
        };
        kinds = &kinds[used..];
        let (count, rest) = number(kind, body)?;
        body = rest;
        *counts.get_mut(column)? = count;
        column += 1;
    }
    counts[column..].fill(f64::NAN);
    body.is_empty().then_some(())
}

/// The number at the beginning of some bytes by its serial type, and what follows it.
/// Anything but a whole number is no reading: a foreign hand wrote it.
fn number(kind: i64, bytes: &[u8]) -> Option<(f64, &[u8])> {
    Some(match kind {
        0 => (f64::NAN, bytes),
        1 => {
            let (one, rest) = bytes.split_first()?;
            (f64::from(one.cast_signed()), rest)
        }
        2 => {
            let (two, rest) = bytes.split_first_chunk()?;
            (f64::from(i16::from_be_bytes(*two)), rest)
        }
        4 => {
            let (four, rest) = bytes.split_first_chunk()?;
            (f64::from(i32::from_be_bytes(*four)), rest)
        }
        3 => (signed(bytes.get(..3)?), &bytes[3..]),
        5 => (signed(bytes.get(..6)?), &bytes[6..]),
        6 => (signed(bytes.get(..8)?), &bytes[8..]),
        7 => (f64::NAN, bytes.get(8..)?),
        8 => (0.0, bytes),
        9 => (1.0, bytes),
        12.. => (
            f64::NAN,
            bytes.get(usize::try_from((kind - 12) / 2).ok()?..)?,
        ),
        _ => return None,
    })
}

/// A whole number of one to eight bytes, the highest first.
fn signed(bytes: &[u8]) -> f64 {
    let first = bytes.first().map_or(0, |b| i64::from(b.cast_signed()));
    let others = bytes.iter().skip(1);
    others.fold(first, |value, byte| value << 8 | i64::from(*byte)) as f64
}

#[cfg(test)]
mod tests;
