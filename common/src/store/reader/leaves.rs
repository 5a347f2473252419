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
    /// Log time of the row before.
    before: Option<i64>,
    /// Numbers of the rows of a leaf, one row after the other; not a number where a
    /// column holds none.
    counts: Vec<f64>,
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
            before: None,
            counts: Vec::new(),
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
        let columns = self.table.columns;
        self.counts.clear();
        self.counts.resize(cells.count() * columns, f64::NAN);
        let mut lines = self.counts.chunks_exact_mut(columns);
        let before = self.t_ms.len();
        for i in 0..cells.count() {
            let cell = cells.get(i)?;
            let in_order = self.before.is_none_or(|before| before < cell.t_ms);
            if !in_order || !leaf.may_hold(cell.t_ms) {
                return None;
            }
            self.before = Some(cell.t_ms);
            if self.span.contains(&cell.t_ms) {
                read_record(cell.record, lines.next()?)?;
                self.t_ms.push(cell.t_ms);
            }
        }
        let rows = self.t_ms.len() - before;
        for (values, sources) in self.values.iter_mut().zip(&self.table.sources) {
            add_values(values, &self.counts[..rows * columns], columns, sources);
        }
        Some(())
    }
}

/// Adds the readings of one name out of rows of so many columns.
fn add_values(out: &mut Vec<f32>, counts: &[f64], columns: usize, sources: &[(usize, f64)]) {
    let lines = counts.chunks_exact(columns);
    if let [(at, resolution)] = sources {
        out.extend(lines.map(|line| (line[*at] * resolution) as f32));
        return;
    }
    out.extend(lines.map(|line| {
        let spoken = sources.iter().rfind(|(at, _)| !line[*at].is_nan());
        spoken.map_or(f32::NAN, |(at, resolution)| (line[*at] * resolution) as f32)
    }));
}

/// Takes the whole numbers out of a row; columns that were added after it was written
/// hold none. `None` of what no recorder writes.
fn read_record(record: &[u8], counts: &mut [f64]) -> Option<()> {
    let (size, rest) = record.split_first()?;
    // A longer header begins otherwise.
    let size = usize::from(*size).checked_sub(1).filter(|s| *s < 0x7f)?;
    let (kinds, mut body) = rest.split_at_checked(size)?;
    if kinds.len() > counts.len() {
        return None;
    }
    for (kind, count) in kinds.iter().zip(counts) {
        *count = match kind {
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
    }
    body.is_empty().then_some(())
}

/// A whole number of one to eight bytes, the highest first.
fn signed(bytes: &[u8]) -> i64 {
    let first = bytes.first().map_or(0, |b| i64::from(b.cast_signed()));
    let others = bytes.iter().skip(1);
    others.fold(first, |value, byte| value << 8 | i64::from(*byte))
}

#[cfg(test)]
mod tests;
