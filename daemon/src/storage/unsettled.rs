//! A change of the log by another program, until it is known what it took.

use seep_common::store::{FileChange, Left};
use seep_common::tick::Tick;
use seep_common::time::LogMs;

/// Rows that this process stored in one file, and the times of the first and
/// the last.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct StoredHere {
    pub(super) rows: u64,
    pub(super) span_ms: Option<(LogMs, LogMs)>,
}

impl StoredHere {
    pub(super) fn add(&mut self, ticks: &[Tick]) {
        let (Some(first), Some(last)) = (ticks.first(), ticks.last()) else {
            return;
        };
        self.rows += ticks.len() as u64;
        let from = self.span_ms.map_or(first.t_ms, |s| s.0);
        self.span_ms = Some((from, last.t_ms));
    }
}

/// A change of the file; the rows in question are sought once a file is open.
#[derive(Debug)]
pub(super) struct Unsettled {
    pub(super) change: FileChange,
    pub(super) left: Left,
    pub(super) stored: StoredHere,
}

impl Unsettled {
    /// What became of the log, for status and journal.
    pub(super) fn text(&self, lost: u64) -> String {
        let change = &self.change;
        let rows = match lost {
            0 => String::new(),
            n => format!("; {n} rows stored since the start are lost"),
        };
        match &self.left {
            Left::InPlace => format!("{change}{rows}; recording goes on in the same log"),
            Left::Complete(path) => format!(
                "{change}; what was recorded until then is complete in {}; recording goes on in a new log",
                path.display()
            ),
            Left::AsFound(path) => format!(
                "{change}{rows}; what is left of it is in {} (`seep verify --salvage` copies what can be read); recording goes on in a new log",
                path.display()
            ),
            Left::Lost(why) => {
                format!(
                    "{change}{rows}; it could not be saved: {why}; recording goes on in a new log"
                )
            }
        }
    }
}
