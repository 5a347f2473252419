//! The recorded rows themselves, for other programs.
//!
//! What leaves here is what was recorded: values in the channel's own unit to
//! its own resolution, nothing where the channel was silent. Only who asks for it by
//! name gets filled or converted rows, under other headings.

mod chunk;
mod csv;
mod for_people;
mod json_lines;
mod parquet;
mod tables;

pub use chunk::{Chunk, Data};
pub use for_people::ForPeople;
pub use parquet::{ParquetError, ParquetFile};
pub use tables::{ExportTable, chunks};

use std::io::{self, Write};

/// Takes chunks one after the other, all with the same columns.
pub trait Sink {
    /// Write one chunk.
    ///
    /// # Errors
    /// The writer's errors.
    fn chunk(&mut self, chunk: &Chunk, to: &mut dyn Write) -> io::Result<()>;
}

/// Comma-separated values after RFC 4180, headings first.
#[must_use]
pub fn csv() -> impl Sink {
    csv::Csv::default()
}

/// One JSON object per line and row.
#[must_use]
pub fn json_lines() -> impl Sink {
    json_lines::JsonLines
}
