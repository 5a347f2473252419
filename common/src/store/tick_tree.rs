//! Proof that rows of readings are those read before, from the pages they lie in.
//!
//! To read rows again through SQLite only to compare them would cost what the comparison
//! is to save. Here the pages of the table are walked and the cells of a span hashed as
//! they lie, at the speed of the hash. Where anything is not as it is known to be in a log,
//! there is no proof, and the rows count as others.
//!
//! **Source**: SQLite file format, sections 1.3 (header), 1.6 (b-tree pages: 0x05 interior
//! and 0x0d leaf page of a table, cells), 4.1 and 4.2 (write-ahead log).

use super::raw_file::RawFile;
use super::reader::Reader;
use super::wal::wal_path;
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::io::Read;
use std::os::unix::fs::FileExt;
use std::path::Path;

use crate::time::LogMs;

/// Kinds of page.
const INTERIOR: u8 = 0x05;
const LEAF: u8 = 0x0d;

/// A tree of rows is never deeper: each level holds hundreds of pages.
const DEEPEST: usize = 16;

/// Leaves that are read at once.
const RUN_PAGES: usize = 64;

/// A larger write-ahead log is not taken into memory.
const MOST_WAL_BYTES: u64 = 256 << 20;

/// SHA-256 of rows as they lie in the file.
pub type RowsHash = [u8; 32];

/// The pages of the table of readings, in order of time.
#[derive(Debug)]
pub struct TickTree {
    pages: Pages,
    /// Page of each leaf, and the last log time that it may hold, ms.
    leaves: Vec<(u32, i64)>,
    /// What the columns of the table are.
    columns: String,
}

impl TickTree {
    /// Of an open log; `None` where its pages are not as they are known to be.
    #[must_use]
    pub fn of(reader: &Reader) -> Option<Self> {
        let (root, columns) = reader.tick_table().ok()?;
        let pages = Pages::open(reader.path())?;
        let mut leaves = Vec::new();
        pages.collect_leaves(root, i64::MAX, DEEPEST, &mut leaves)?;
        Some(TickTree {
            pages,
            leaves,
            columns,
        })
    }

    /// The statement that made the table: it tells which column holds what.
    #[must_use]
    pub fn columns(&self) -> &str {
        &self.columns
    }

    /// Hash of the rows with log times in `[from, to)`.
    #[must_use]
    pub fn hash(&self, from: LogMs, to: LogMs) -> Option<RowsHash> {
        let first = self.leaves.partition_point(|leaf| leaf.1 < from.0);
        let count = self.leaves[first..].partition_point(|leaf| leaf.1 < to.0) + 1;
        let last = (first + count).min(self.leaves.len());
        let mut state = Sha256::new();
        let (mut pages, mut cells) = (Vec::new(), Vec::new());
        for leaves in self.leaves[first..last].chunks(RUN_PAGES) {
            self.pages.read_all(leaves, &mut pages)?;
            for page in pages.chunks_exact(self.pages.page_bytes) {
                cells.clear();
                self.pages.cells_of(page, from.0..to.0, &mut cells)?;
                state.update(&cells);
            }
        }
        Some(state.finalize().into())
    }
}

/// Pages of a log: from its write-ahead log where they wait there, else from the file.
#[derive(Debug)]
struct Pages {
    file: RawFile,
    page_bytes: usize,
    /// Bytes of a page that hold cells.
    usable: usize,
    waiting: HashMap<u32, Vec<u8>>,
    most_pages: usize,
}

impl Pages {
    fn open(path: &Path) -> Option<Self> {
        let mut file = RawFile::open(path).ok()?;
        let mut head = [0; 100];
        file.read_exact(&mut head).ok()?;
        let page_bytes = match u16::from_be_bytes([head[16], head[17]]) {
            1 => 65_536,
            n if n >= 512 && n.is_power_of_two() => usize::from(n),
            _ => return None,
        };
        let waiting = waiting(&wal_path(path), page_bytes)?;
        let in_file = file.file().ok()?.metadata().ok()?.len() / page_bytes as u64;
        Some(Pages {
            file,
            page_bytes,
            usable: page_bytes.checked_sub(usize::from(head[20]))?,
            most_pages: usize::try_from(in_file).ok()? + waiting.len(),
            waiting,
        })
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
    fn read_all(&self, leaves: &[(u32, i64)], into: &mut Vec<u8>) -> Option<()> {
        into.resize(leaves.len() * self.page_bytes, 0);
        let is_next = |a: &(u32, i64), b: &(u32, i64)| {
            let in_file = |l: &(u32, i64)| !self.waiting.contains_key(&l.0);
            a.0.checked_add(1) == Some(b.0) && in_file(a) && in_file(b)
        };
        let mut room = &mut into[..];
        for run in leaves.chunk_by(is_next) {
            let (own, rest) = room.split_at_mut_checked(run.len() * self.page_bytes)?;
            match self.waiting.get(&run[0].0) {
                Some(page) => own.copy_from_slice(page),
                None => self.read_at(run[0].0, own)?,
            }
            room = rest;
        }
        Some(())
    }

    /// Adds the leaves under a page, which hold log times up to `last`.
    fn collect_leaves(
        &self,
        number: u32,
        last: i64,
        deeper: usize,
        out: &mut Vec<(u32, i64)>,
    ) -> Option<()> {
        // Pages that lead to each other would have no end.
        if out.len() > self.most_pages {
            return None;
        }
        let page = self.read(number)?;
        let head = if number == 1 { 100 } else { 0 };
        match *page.get(head)? {
            LEAF => {
                out.push((number, last));
                Some(())
            }
            INTERIOR if deeper > 0 => {
                let children = children(&page, head, last)?;
                // All leaves lie at one depth: the first child tells that of all.
                let (first, _) = *children.first()?;
                if *self.read(first)?.first()? == LEAF {
                    out.extend(children);
                    return Some(());
                }
                for (child, last) in children {
                    let before = out.len();
                    self.collect_leaves(child, last, deeper - 1, out)?;
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

    /// Adds the cells of a leaf whose log time lies in a span, as they are.
    fn cells_of(&self, page: &[u8], span: std::ops::Range<i64>, out: &mut Vec<u8>) -> Option<()> {
        if *page.first()? != LEAF {
            return None;
        }
        for i in 0..usize::from(number16(page, 3)?) {
            let at = usize::from(number16(page, 8 + 2 * i)?);
            let cell = page.get(at..self.usable)?;
            let (bytes, size_bytes) = varint(cell)?;
            let (t_ms, key_bytes) = varint(cell.get(size_bytes..)?)?;
            // More would lie on other pages: no row of a log is so long.
            let bytes = usize::try_from(bytes).ok()?;
            if bytes > self.usable - 35 {
                return None;
            }
            if span.contains(&t_ms) {
                out.extend(cell.get(..size_bytes + key_bytes + bytes)?);
            }
        }
        Some(())
    }
}

/// Children of an interior page with the last key that each may hold.
fn children(page: &[u8], head: usize, last: i64) -> Option<Vec<(u32, i64)>> {
    let cells = usize::from(number16(page, head + 3)?);
    let mut out = Vec::with_capacity(cells + 1);
    for i in 0..cells {
        let at = usize::from(number16(page, head + 12 + 2 * i)?);
        let key = varint(page.get(at + 4..)?)?.0;
        out.push((number32(page, at)?, key));
    }
    out.push((number32(page, head + 8)?, last));
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
