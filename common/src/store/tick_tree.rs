//! Proof that rows of readings are those read before, from the pages they lie in.
//!
//! To read rows again through SQLite only to compare them would cost what the comparison
//! is to save. Here the pages of the table are walked and the cells of a span hashed as
//! they lie, at the speed of the hash. Where anything is not as it is known to be in a log,
//! there is no proof, and the rows count as others.

use super::pages::{Leaf, Pages, RUN_PAGES};
use super::reader::Reader;
use crate::time::LogMs;
use sha2::{Digest, Sha256};
use std::ops::Range;

/// SHA-256 of rows as they lie in the file.
pub type RowsHash = [u8; 32];

/// The pages of the table of readings, in order of time.
#[derive(Debug)]
pub struct TickTree {
    pages: Pages,
    leaves: Vec<Leaf>,
    /// What the columns of the table are.
    columns: String,
}

impl TickTree {
    /// Of an open log; `None` where its pages are not as they are known to be.
    #[must_use]
    pub fn of(reader: &Reader) -> Option<Self> {
        let (root, columns) = reader.tick_table().ok()?;
        let pages = Pages::open(reader.path())?;
        Some(TickTree {
            leaves: pages.leaves(root, i64::MIN..i64::MAX)?,
            pages,
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
        let first = self.leaves.partition_point(|leaf| leaf.last < from.0);
        let count = self.leaves[first..].partition_point(|leaf| leaf.last < to.0) + 1;
        let last = (first + count).min(self.leaves.len());
        let mut state = Sha256::new();
        let (mut pages, mut cells) = (Vec::new(), Vec::new());
        for leaves in self.leaves[first..last].chunks(RUN_PAGES) {
            self.pages.read_all(leaves, &mut pages)?;
            for page in pages.chunks_exact(self.pages.page_bytes) {
                cells.clear();
                cells_within(&self.pages, page, from.0..to.0, &mut cells)?;
                state.update(&cells);
            }
        }
        Some(state.finalize().into())
    }
}

/// Adds the cells of a leaf whose log time lies in a span, as they are.
fn cells_within(pages: &Pages, page: &[u8], span: Range<i64>, out: &mut Vec<u8>) -> Option<()> {
    let cells = pages.cells(page)?;
    for i in 0..cells.count() {
        let cell = cells.get(i)?;
        if span.contains(&cell.t_ms) {
            out.extend(cell.whole);
        }
    }
    Some(())
}

#[cfg(test)]
pub(super) mod tests;
