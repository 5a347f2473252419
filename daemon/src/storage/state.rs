//! What others may know of the storage thread.

use crate::exit::Exit;
use seep_common::time::BootMs;
use std::path::PathBuf;

/// A snapshot of how storing goes.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct StorageState {
    /// What is wrong at the moment, in the system's words.
    pub trouble: Option<String>,
    /// Boot time of the last commit, ms.
    pub last_commit_boot_ms: Option<BootMs>,
    /// Rows that wait in memory.
    pub waiting_ticks: usize,
    /// Rows stored since the start.
    pub stored_ticks: u64,
    /// Rows given up since the start.
    pub lost_ticks: u64,
    /// Those of them that were stored and that another program destroyed.
    pub destroyed_ticks: u64,
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
    pub ended: Option<StorageEnded>,
}

impl StorageState {
    /// Why rows were lost, in one sentence; `None` when none were and none wait.
    pub(crate) fn loss(&self) -> Option<String> {
        if self.lost_ticks == 0 && self.trouble.is_none() {
            return None;
        }
        let not_stored = self.lost_ticks.saturating_sub(self.destroyed_ticks);
        let mut parts = Vec::new();
        if not_stored > 0 || self.trouble.is_some() {
            let usual = "the log could not be written for too long";
            let why = self.trouble.as_deref().unwrap_or(usual);
            parts.push(format!("{not_stored} rows could not be stored: {why}"));
        }
        if self.destroyed_ticks > 0 {
            parts.push(format!(
                "{} stored rows were destroyed by another program that changed the log",
                self.destroyed_ticks
            ));
        }
        Some(parts.join("; "))
    }
}

/// Why the storage thread ended, and the exit code that says so.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StorageEnded {
    pub exit: Exit,
    pub reason: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loss_is_told_with_its_own_cause() {
        let state = |lost_ticks, destroyed_ticks, trouble: Option<&str>| StorageState {
            lost_ticks,
            destroyed_ticks,
            trouble: trouble.map(Into::into),
            ..StorageState::default()
        };
        assert_eq!(state(0, 0, None).loss(), None);
        let destroyed = state(20, 20, None).loss().expect("told");
        assert_eq!(
            destroyed,
            "20 stored rows were destroyed by another program that changed the log"
        );
        let both = state(25, 20, Some("disk full")).loss().expect("told");
        assert!(
            both.contains("5 rows could not be stored: disk full"),
            "{both}"
        );
        assert!(both.contains("20 stored rows"), "{both}");
    }
}
