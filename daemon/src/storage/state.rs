//! What others may know of the storage thread.

use crate::exit::Exit;
use std::path::PathBuf;

/// A snapshot of how storing goes.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct StorageState {
    /// What is wrong at the moment, in the system's words.
    pub trouble: Option<String>,
    /// Boot time of the last commit, ms.
    pub last_commit_boot_ms: Option<i64>,
    /// Rows that wait in memory.
    pub waiting_ticks: usize,
    /// Rows stored since the start.
    pub stored_ticks: u64,
    /// Rows given up since the start.
    pub lost_ticks: u64,
    /// The session being recorded.
    pub session: Option<i64>,
    /// A damaged log that was set aside at the start.
    pub set_aside: Option<PathBuf>,
    /// Sessions whose readings were deleted to keep space.
    pub deleted_sessions: u64,
    /// What another program did to the log, and what became of the rows.
    pub log_changed: Option<String>,
    /// Why space is short and what happens next.
    pub space_short: Option<String>,
    /// The thread has ended by itself: nothing is stored any more.
    pub ended: Option<Ended>,
}

/// Why the storage thread ended, and the exit code that says so.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ended {
    pub exit: Exit,
    pub reason: String,
}
