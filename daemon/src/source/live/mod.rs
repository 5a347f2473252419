//! Live sources: one task each, that reads its wire, survives whatever happens
//! to it, and reports what it found as [`SourceEvent`]s.
//!
//! A source never ends by itself: it ends when [`SourceContext::stop`] turns true (or its
//! sender is gone), sends what it still holds, and drops its [`SourceContext`]. Once all
//! have ended, the receiver of the events gets `None`.

mod backoff;
mod can;
mod context;
mod modbus;
mod reporter;
mod serial;
mod supervise;
pub(crate) mod survey;
mod tty;

#[cfg(test)]
mod testing;

pub(crate) use can::WAITING_ROOM as CAN_WAITING_ROOM;
pub(crate) use context::{Heartbeat, SourceContext};
use seep_common::time::BootMs;

use super::Item;
use crate::databases::Databases;
use crate::pause::Pause;
use seep_common::rig::{Rig, SourceKind};
use tokio::task::JoinHandle;

/// Count of readings that arrived while the program stood still and that nothing
/// dates.
const NOT_DATED: &str = "readings_not_dated";

/// What a live source reports. Times are CLOCK_BOOTTIME in ms.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum SourceEvent {
    /// Readings and signs of life, in the order of the source's own time.
    Items(Vec<Item>),
    /// The source cannot be read from here on. Said again while lost only when
    /// the cause has become another one.
    Lost {
        /// Index of the source in the rig.
        source: usize,
        /// Since when, ms.
        t_ms: BootMs,
        /// Why, in plain words: cause of the gap and of the status.
        cause: String,
    },
    /// It can be read again; said only after [`SourceEvent::Lost`].
    Back {
        /// Index of the source in the rig.
        source: usize,
        /// Since when, ms.
        t_ms: BootMs,
    },
    /// Running totals since the start of the process, for
    /// [`Counts::tell`](crate::counts::Counts::tell): about once a second while
    /// they change, and at the end.
    Counters {
        /// Index of the source in the rig.
        source: usize,
        /// Name (words joined by `_`) and total.
        totals: Vec<(&'static str, u64)>,
    },
    /// The task of the source stood still, and what arrived meanwhile could not be
    /// dated: it was dropped, and counted in the totals.
    Paused {
        /// Index of the source in the rig.
        source: usize,
        /// When.
        pause: Pause,
    },
    /// Something to be noted once: the bus changed its state, wrong baud suspected.
    Note {
        /// Index of the source in the rig.
        source: usize,
        /// When, ms.
        t_ms: BootMs,
        /// What, in plain words.
        text: String,
    },
    /// A text sentence of the sender, such as name and version of a board that
    /// has just started.
    SenderText {
        /// Index of the source in the rig.
        source: usize,
        /// When, ms.
        t_ms: BootMs,
        /// The text.
        text: String,
    },
    /// Transducers that send and feed no channel of the rig.
    Unknown {
        /// Index of the source in the rig.
        source: usize,
        /// When, ms.
        t_ms: BootMs,
        /// All names so far.
        names: Vec<String>,
    },
}

/// Start every source of the rig that can be read live, one task each; a dead
/// one never stops the others. Must be called inside a tokio runtime with I/O
/// and time enabled.
pub(crate) fn start(
    rig: &Rig,
    databases: &Databases,
    context: SourceContext,
) -> Vec<JoinHandle<()>> {
    let mut lines = modbus::SharedLines::default();
    (rig.sources.iter().enumerate())
        .map(|(source, known)| {
            let begin = match &known.kind {
                SourceKind::Nmea { device, baud } => {
                    serial::prepare(rig, source, device.as_deref(), *baud)
                }
                SourceKind::Modbus { .. } => modbus::prepare(rig, source, &mut lines),
                SourceKind::SocketCan { .. } => can::prepare(rig, source, databases),
                SourceKind::Csv { .. } => supervise::unavailable("a table can only be replayed"),
            };
            tokio::spawn(supervise::supervise(begin, context.clone(), source))
        })
        .collect()
}
