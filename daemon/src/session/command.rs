//! What is to be done with the log.

use crate::time::ClockNote;
use seep_common::rig::Rig;
use seep_common::store::{Batch, EndReason};
use seep_common::time::{BootMs, WallMs};

/// Work for the owner of the log, in order. All times are boot time, ms; in a
/// replay the recording's own time takes its place.
#[derive(Debug)]
pub(crate) enum StorageCommand {
    /// Begin a session.
    Begin {
        rig: Box<Rig>,
        boot_ms: BootMs,
        /// Where log time goes on when no earlier session says otherwise.
        wall_ms: WallMs,
    },
    /// Store these rows.
    Store(Batch<BootMs>),
    /// Note the clock.
    Clock(ClockNote),
    /// End the session.
    End { boot_ms: BootMs, reason: EndReason },
}
