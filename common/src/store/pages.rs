//! Pages of the table of readings, read without SQLite.
//!
//! What is not as it is known to be in a log gives nothing; whoever asks then has to ask
//! SQLite.
//!
//! **Source**: SQLite file format, sections 1.3 (header), 1.6 (b-tree pages: 0x05 interior
//! and 0x0d leaf page of a table, cells), 4.1 and 4.2 (write-ahead log).

use super::raw_file::{FileId, RawFile};
use super::wal::wal_path;
use std::collections::HashMap;
use std::io::Read;
use std::ops::Range;
use std::os::unix::fs::FileExt;
use std::path::Path;

/// Kinds of page.
const INTERIOR: u8 = 0x05;
const LEAF: u8 = 0x0d;

/// A tree of rows is never deeper: each level holds hundreds of pages.
const DEEPEST: usize = 16;

/// Leaves that are read at once.
pub(super) const RUN_PAGES: usize = 64;

/// A larger write-ahead log is not taken into memory.
const MOST_WAL_BYTES: u64 = 256 << 20;

/// A page of rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Leaf {
    number: u32,
    /// Its rows have later log times than this, ms.
    after: Option<i64>,
    /// The last log time that it may hold, ms.
    pub(super) last: i64,
}

/// A row as it lies in its page.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell<'a> {
    pub(super) t_ms: i64,
    pub(super) record: &'a [u8],
    /// With its size and its key.
    pub(super) whole: &'a [u8],
}

/// Pages of a log: from its write-ahead log where they wait there, else from the file.
#[derive(Debug)]
pub(super) struct Pages {
    file: RawFile,
    pub(super) page_bytes: usize,
    /// Bytes of a page that hold cells.
    usable: usize,
    waiting: HashMap<u32, Vec<u8>>,
    most_pages: usize,
}

/// What the header of a database says.
struct Head {
    page_bytes: usize,
    /// Bytes of a page that hold cells.
    usable: usize,
    uses_write_ahead_log: bool,
}

impl Head {
    fn of(file: &RawFile) -> Option<Self> {
        let mut head = [0; 100];
        file.file().ok()?.read_exact_at(&mut head, 0).ok()?;
        let page_bytes = match u16::from_be_bytes([head[16], head[17]]) {
            1 => 65_536,
            n if n >= 512 && n.is_power_of_two() => usize::from(n),
            _ => return None,
        };
        Some(Head {
            page_bytes,
            usable: page_bytes.checked_sub(usize::from(head[20]))?,
            uses_write_ahead_log: head[18..20] != [1, 1],
        })
    }
}

impl Pages {
    pub(super) fn open(path: &Path) -> Option<Self> {
        let file = RawFile::open(path).ok()?;
        let head = Head::of(&file)?;
        let waiting = waiting(&wal_path(path), head.page_bytes)?;
        let in_file = file.file().ok()?.metadata().ok()?.len() / head.page_bytes as u64;
        Some(Pages {
            file,
            page_bytes: head.page_bytes,
            usable: head.usable,
            most_pages: usize::try_from(in_file).ok()? + waiting.len(),
            waiting,
        })
    }

    /// Whether the file has pages of the size that it had when it was opened.
    pub(super) fn are_as_opened(&self) -> Option<bool> {
        let head = Head::of(&self.file)?;
        Some((head.page_bytes, head.usable) == (self.page_bytes, self.usable))
    }

    /// Whether rows may be in a write-ahead log.
    pub(super) fn use_write_ahead_log(&self) -> Option<bool> {
        Some(Head::of(&self.file)?.uses_write_ahead_log)
    }

    /// Whether these are pages of a file that is known.
    pub(super) fn are_of(&self, file: FileId) -> bool {
        self.file.id() == file
    }

    /// Whether all pages lie in the file itself.
    pub(super) fn none_wait(&self) -> bool {
        self.waiting.is_empty()
    }

    /// A page; the first one starts with the header of the database.
    fn read(&self, number: u32) -> Option<Vec<u8>> {
        if let Some(page) = self.waiting.get(&number) {
            return Some(page.clone());
        }
        let mut page = vec![0; self.page_bytes];
        self.read_at(number, &mut page)?;
        Some(page)
    }

    fn read_at(&self, number: u32, into: &mut [u8]) -> Option<()> {
        let at = u64::from(number.checked_sub(1)?) * self.page_bytes as u64;
        self.file.file().ok()?.read_exact_at(into, at).ok()
    }

    /// Leaves one behind the other, neighbours in the file with one call.
    pub(super) fn read_all(&self, leaves: &[Leaf], into: &mut Vec<u8>) -> Option<()> {
        into.resize(leaves.len() * self.page_bytes, 0);
        let is_next = |a: &Leaf, b: &Leaf| {
            let in_file = |l: &Leaf| !self.waiting.contains_key(&l.number);
            a.number.checked_add(1) == Some(b.number) && in_file(a) && in_file(b)
        };
        let mut room = &mut into[..];
        for run in leaves.chunk_by(is_next) {
            let (own, rest) = room.split_at_mut_checked(run.len() * self.page_bytes)?;
            match self.waiting.get(&run[0].number) {
                Some(page) => own.copy_from_slice(page),
                None => self.read_at(run[0].number, own)?,
            }
            room = rest;
        }
        Some(())
    }

    /// The leaves under a root that may hold log times of a span, in their order.
    pub(super) fn leaves(&self, root: u32, span: Range<i64>) -> Option<Vec<Leaf>> {
        let root = Leaf {
            number: root,
            after: None,
            last: i64::MAX,
        };
        let mut leaves = Vec::new();
        self.collect_leaves(root, &span, DEEPEST, &mut leaves)?;
        Some(leaves)
    }

    fn collect_leaves(
        &self,
        from: Leaf,
        span: &Range<i64>,
        deeper: usize,
        out: &mut Vec<Leaf>,
    ) -> Option<()> {
        // Pages that lead to each other would have no end.
        if out.len() > self.most_pages {
            return None;
        }
        let page = self.read(from.number)?;
        let head = if from.number == 1 { 100 } else { 0 };
        match *page.get(head)? {
            LEAF => {
                out.push(from);
                Some(())
            }
            INTERIOR if deeper > 0 => {
                let children = children(&page, head, from, span)?;
                // All leaves lie at one depth: the first child tells that of all.
                let first = children.first()?;
                if *self.read(first.number)?.first()? == LEAF {
                    out.extend(children);
                    return Some(());
                }
                for child in children {
                    let before = out.len();
                    self.collect_leaves(child, span, deeper - 1, out)?;
                    // Each page leads to others, so that the walk has an end.
                    if out.len() == before {
                        return None;
                    }
                }
                Some(())
            }
            _ => None,
        }
    }

    /// The rows of a leaf.
    pub(super) fn cells<'a>(&self, page: &'a [u8]) -> Option<Cells<'a>> {
        if *page.first()? != LEAF {
            return None;
        }
        let count = usize::from(number16(page, 3)?);
        Some(Cells {
            pointers: page.get(8..8 + 2 * count)?,
            bytes: page.get(..self.usable)?,
            longest: self.usable.checked_sub(35)?,
        })
    }
}

/// The rows of a leaf in their order.
pub(super) struct Cells<'a> {
    pointers: &'a [u8],
    bytes: &'a [u8],
    longest: usize,
}

impl<'a> Cells<'a> {
    pub(super) fn count(&self) -> usize {
        self.pointers.len() / 2
    }

    /// One of them; `None` where the page is not as it should be.
    pub(super) fn get(&self, i: usize) -> Option<Cell<'a>> {
        let at = usize::from(number16(self.pointers, 2 * i)?);
        // Cells lie behind their pointers.
        if at < 8 + self.pointers.len() {
            return None;
        }
        cell(self.bytes.get(at..)?, self.longest)
    }
}

/// The row at the beginning of some bytes. Of a longer one more would lie on other pages:
/// no row of a log is so long.
fn cell(bytes: &[u8], longest: usize) -> Option<Cell<'_>> {
    let (record_bytes, size_bytes) = varint(bytes)?;
    let (t_ms, key_bytes) = varint(bytes.get(size_bytes..)?)?;
    let record_bytes = usize::try_from(record_bytes).ok()?;
    if record_bytes > longest {
        return None;
    }
    let head = size_bytes + key_bytes;
    let whole = bytes.get(..head + record_bytes)?;
    Some(Cell {
        t_ms,
        record: &whole[head..],
        whole,
    })
}

impl Leaf {
    /// Whether a row may lie here by the pages above.
    pub(super) fn may_hold(&self, t_ms: i64) -> bool {
        self.after.is_none_or(|after| t_ms > after) && t_ms <= self.last
    }
}

/// Children of an interior page that may hold log times of a span; `None` where they are
/// not in order.
fn children(page: &[u8], head: usize, of: Leaf, span: &Range<i64>) -> Option<Vec<Leaf>> {
    let cells = usize::from(number16(page, head + 3)?);
    let mut out = Vec::with_capacity(cells + 1);
    let mut after = of.after;
    let mut add = |number: u32, last: i64| {
        let child = Leaf {
            number,
            after,
            last,
        };
        if after.is_some_and(|after| last <= after) {
            return None;
        }
        if last >= span.start && after.is_none_or(|after| after < span.end) {
            out.push(child);
        }
        after = Some(last);
        Some(())
    };
    for i in 0..cells {
        let at = usize::from(number16(page, head + 12 + 2 * i)?);
        let key = varint(page.get(at + 4..)?)?.0;
        add(number32(page, at)?, key)?;
    }
    add(number32(page, head + 8)?, of.last)?;
    Some(out)
}

/// Pages that wait in a write-ahead log, up to its last commit; none where there is none.
fn waiting(wal: &Path, page_bytes: usize) -> Option<HashMap<u32, Vec<u8>>> {
    let mut bytes = Vec::new();
    match RawFile::open(wal) {
        Ok(file) => {
            file.take(MOST_WAL_BYTES).read_to_end(&mut bytes).ok()?;
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
        Err(_) => return None,
    }
    if bytes.is_empty() {
        return Some(HashMap::new());
    }
    if bytes.len() as u64 == MOST_WAL_BYTES {
        return None;
    }
    let (header, frames) = bytes.split_at_checked(32)?;
    let salts = &header[16..24];
    let mut committed = HashMap::new();
    let mut open = Vec::new();
    // Frames of an earlier round have other salts.
    let of_this_round = |frame: &&[u8]| frame[8..16] == *salts;
    for frame in frames
        .chunks_exact(24 + page_bytes)
        .take_while(of_this_round)
    {
        open.push((number32(frame, 0)?, frame[24..].to_vec()));
        if number32(frame, 4)? > 0 {
            committed.extend(open.drain(..));
        }
    }
    Some(committed)
}

fn number16(bytes: &[u8], at: usize) -> Option<u16> {
    let two = bytes.get(at..at + 2)?;
    Some(u16::from_be_bytes([two[0], two[1]]))
}

fn number32(bytes: &[u8], at: usize) -> Option<u32> {
    let four = bytes.get(at..at + 4)?;
    Some(u32::from_be_bytes([four[0], four[1], four[2], four[3]]))
}

/// A number of one to nine bytes, and how many they are.
///
/// **Source**: SQLite file format, section 1.6, "A variable-length integer".
fn varint(bytes: &[u8]) -> Option<(i64, usize)> {
    if let Some(one @ 0..0x80) = bytes.first() {
        return Some((i64::from(*one), 1));
    }
    let mut value: u64 = 0;
    for i in 0..8 {
        let byte = *bytes.get(i)?;
        value = value << 7 | u64::from(byte & 0x7f);
        if byte < 0x80 {
            return Some((value.cast_signed(), i + 1));
        }
    }
    value = value << 8 | u64::from(*bytes.get(8)?);
    Some((value.cast_signed(), 9))
}

#[cfg(test)]
mod tests;
