//! A recorder without sources: a session and the storage thread.

use crate::clock::{Clock, VirtualClock};
use crate::run::live_session::LiveSession;
use crate::source::live::SourceEvent;
use crate::source::{Item, Payload};
use crate::storage::{LogFile, StorageHandle, StorageState, start};
use seep_common::rig::Rig;
use seep_common::sample::ChannelIndex;
use seep_common::store::EndReason;
use std::cell::Cell;
use std::path::Path;
use std::sync::Arc;

thread_local! {
    static SYNCED: Cell<bool> = const { Cell::new(false) };
}

fn is_synced() -> bool {
    SYNCED.get()
}

/// Say whether the clock of this test's thread is synchronised.
pub(super) fn set_synced(synced: bool) {
    SYNCED.set(synced);
}

pub(super) struct TestRecorder {
    pub clock: Arc<VirtualClock>,
    session: LiveSession,
    handle: StorageHandle,
}

impl TestRecorder {
    pub(super) fn start(log: &Path, boot_id: &str, rig: &Rig, clock: &Arc<VirtualClock>) -> Self {
        let handle =
            start(LogFile::new(log.into(), boot_id.into()), clock.clone()).expect("a thread");
        let session = LiveSession::begin(rig, clock.clone(), is_synced, &mut |o| handle.send(o));
        TestRecorder {
            clock: clock.clone(),
            session,
            handle,
        }
    }

    /// Readings of all channels at this moment.
    pub(super) fn say(&mut self, values: &[f64]) {
        let t_ms = self.clock.boot_ms();
        let item = |(i, v): (usize, &f64)| Item {
            t_ms,
            payload: Payload::Reading(ChannelIndex(i as u16), *v),
        };
        let items = values.iter().enumerate().map(item).collect();
        let handle = &self.handle;
        self.session
            .take(SourceEvent::Items(items), &mut |o| handle.send(o));
    }

    /// A second has passed.
    pub(super) fn pass(&mut self) {
        let handle = &self.handle;
        self.session.pass(&mut |o| handle.send(o));
    }

    /// Let the storage thread catch up: a test's clock runs faster than any disk.
    pub(super) fn catch_up(&self) {
        while self.handle.state().waiting_ticks > 20_000 {
            std::thread::sleep(std::time::Duration::from_millis(1));
        }
    }

    /// Let the storage thread store everything it was given.
    pub(super) fn store_all(&self) {
        while self.handle.state().waiting_ticks > 0 {
            std::thread::sleep(std::time::Duration::from_millis(1));
        }
    }

    /// How storing goes.
    pub(super) fn storage(&self) -> StorageState {
        self.handle.state()
    }

    pub(super) fn stop(self) -> StorageState {
        let handle = self.handle;
        self.session
            .finish(EndReason::Stopped, &mut |o| handle.send(o));
        handle.finish()
    }

    /// As if the power went: what was not ordered yet is gone.
    pub(super) fn cut(self) -> StorageState {
        self.handle.finish()
    }
}
