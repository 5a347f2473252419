//! Where the sessions of a log come from: this machine, or recorded files.

use seep_common::store::{SessionId, SessionStart, StoreError, Writer};
use seep_common::time::{BootMs, LogMs};

/// What is recorded into a log.
pub(super) enum Origin {
    /// Live sources of a machine that runs since a boot.
    Live { boot_id: String },
    /// Recorded files.
    Replay {
        /// Their names.
        names: String,
        /// Log time minus the recording's own time of the last session, ms.
        shift_ms: i64,
    },
}

impl Origin {
    /// Returns a replay of files whose time becomes log time unless the log ends
    /// later.
    pub(super) fn replay(names: &str) -> Self {
        Origin::Replay {
            names: names.into(),
            shift_ms: 0,
        }
    }

    /// Returns the sessions of this boot that the log holds: id, first log time
    /// and its boot time.
    ///
    /// # Errors
    /// When the log cannot be read.
    pub(super) fn sessions_of_boot(
        &self,
        writer: &Writer,
    ) -> Result<Vec<(SessionId, LogMs, BootMs)>, StoreError> {
        match self {
            Origin::Live { boot_id } => writer.sessions_of_boot(boot_id),
            Origin::Replay { .. } => Ok(Vec::new()),
        }
    }

    /// Returns log time minus boot time of the last session on the same time
    /// scale, ms.
    pub(super) fn same_boot_shift_ms(&self, of_boot: &[(SessionId, LogMs, BootMs)]) -> Option<i64> {
        match self {
            Origin::Live { .. } => of_boot
                .last()
                .map(|(_, t_ms, boot_ms)| t_ms.minus_boot(*boot_ms)),
            Origin::Replay { shift_ms, .. } => Some(*shift_ms),
        }
    }

    /// Keeps the scale of a session that has begun for those that follow.
    pub(super) fn begun(&mut self, begun_shift_ms: i64) {
        if let Origin::Replay { shift_ms, .. } = self {
            *shift_ms = begun_shift_ms;
        }
    }

    /// Returns the session row of a start.
    pub(super) fn session(&self, t_ms: LogMs, boot_ms: BootMs) -> SessionStart {
        let (boot_id, origin, start_boot_ms) = match self {
            Origin::Live { boot_id } => (boot_id.as_str(), "live", Some(boot_ms)),
            Origin::Replay { names, .. } => ("replay", names.as_str(), None),
        };
        SessionStart {
            boot_id: boot_id.into(),
            t_ms,
            program: crate::PROGRAM.into(),
            origin: origin.into(),
            start_boot_ms,
        }
    }
}
