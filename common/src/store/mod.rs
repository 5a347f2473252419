//! The log: one SQLite file, wide rows, a file that explains itself.
//!
//! All SQL of seep is in this folder. Time in a log is *log time*: it never
//! repeats and never goes back; [`ClockRow`]s map it to wall time. A value is
//! stored as a count of its channel's resolution; NULL means the channel said
//! nothing fresh in that tick.

mod access;
mod anchor;
pub mod cause;
mod clock;
mod columns;
mod connection;
mod error;
mod file_state;
mod fingerprint;
mod foreign;
mod hash;
mod holes;
mod identity;
mod inspect;
mod notes;
mod open;
mod pages;
mod raw_file;
mod readable;
mod reader;
mod rows;
mod salvage;
mod schema;
mod snapshot;
mod tick_tree;
mod time_columns;
mod wal;
mod wal_owner;
mod whole_copy;
mod writer;

pub use access::who_may_read;
pub use anchor::is_being_written;
pub use clock::ClockMap;
pub use columns::Columns;
pub use error::{StoreError, StoreErrorClass};
pub use fingerprint::Fingerprint;
pub use hash::{sha256_file, sha256_hex};
pub use inspect::{Inspection, inspect};
pub use notes::{HandReading, Note, Noted, add_notes};
pub use open::sqlite_version;
pub use raw_file::RawFile;
pub use reader::Reader;
pub use rows::{
    Batch, ClockRow, ClockState, Counter, EndReason, Event, EventKind, Gap, Notice, Session,
    SessionId, SessionStart, StoredChannel,
};
pub use salvage::{Salvaged, salvage};
pub use schema::{APPLICATION_ID, SCHEMA_VERSION};
pub use snapshot::snapshot;
pub use tick_tree::{RowsHash, TickTree};
pub use wal::{SIDE_FILE_ENDINGS, write_ahead_bytes};
pub use writer::{FileChange, Left, MovedAside, Oldest, Writer, set_aside};

#[cfg(test)]
mod tests;
