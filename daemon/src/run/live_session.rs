//! Turns the events of live sources into commands for the storage thread.

use super::last_values::LastValues;
use super::status::{ChannelStatus, SourceStatus};
use crate::clock::Clock;
use crate::pause::PauseDetector;
use crate::session::{SessionBuilder, StorageCommand};
use crate::source::live::SourceEvent;
use crate::source::{Item, Payload};
use crate::time::ClockTracker;
use seep_common::rig::Rig;
use seep_common::store::EndReason;
use seep_common::time::BootMs;
use std::sync::Arc;

/// Counters become rows this often, ms: often enough to place a trouble, seldom
/// enough not to wear the card.
const COUNTERS_EVERY_MS: i64 = 60_000;

/// After a pause of the whole process it waits this long before it lets time pass for silent channels, ms.
const SILENCE_GRACE_MS: i64 = 10_000;

/// One session of live sources. Plain: no task, no thread, no clock of its own
/// choice.
pub(crate) struct LiveSession {
    builder: SessionBuilder,
    clock_tracker: ClockTracker,
    clock: Arc<dyn Clock>,
    synced: fn() -> bool,
    last_values: LastValues,
    last_commit_ms: BootMs,
    last_counters_ms: BootMs,
    pauses: PauseDetector,
    silence_grace_until_ms: BootMs,
}

impl LiveSession {
    /// Begins a session; commands go to `command`.
    pub(crate) fn begin(
        rig: &Rig,
        clock: Arc<dyn Clock>,
        synced: fn() -> bool,
        command: &mut dyn FnMut(StorageCommand),
    ) -> Self {
        let boot_ms = clock.boot_ms();
        let expected: Vec<bool> = rig.sources.iter().map(|s| s.kind.is_live()).collect();
        let mut builder = SessionBuilder::new(rig);
        builder.begin(boot_ms, clock.wall_ms(), &expected, command);
        let mut session = LiveSession {
            last_values: LastValues::new(rig, boot_ms),
            builder,
            clock_tracker: ClockTracker::default(),
            clock,
            synced,
            last_commit_ms: boot_ms,
            last_counters_ms: boot_ms,
            pauses: PauseDetector::default(),
            silence_grace_until_ms: boot_ms,
        };
        session.look_at_clock(command);
        session
    }

    /// Takes an event of a source.
    pub(crate) fn take(&mut self, event: SourceEvent, command: &mut dyn FnMut(StorageCommand)) {
        self.look_for_pause();
        match event {
            SourceEvent::Items(items) => self.take_items(items),
            SourceEvent::Lost {
                source,
                t_ms,
                cause,
            } => {
                self.builder.pipeline_mut().lost(source, &cause);
                self.last_values.lost(source, &cause);
                self.notice(Some(source), t_ms, format!("cannot be read: {cause}"));
            }
            SourceEvent::Back { source, t_ms } => {
                self.last_values.back(source);
                self.notice(Some(source), t_ms, "can be read again".into());
            }
            SourceEvent::Counters { source, totals } => {
                self.builder.counts_mut().tell(source, totals);
            }
            SourceEvent::Paused { source, pause } => {
                let (from_ms, to_ms) = (pause.from_ms, pause.to_ms);
                self.builder
                    .pipeline_mut()
                    .paused(source, from_ms, to_ms, true);
            }
            SourceEvent::Note { source, t_ms, text } => self.notice(Some(source), t_ms, text),
            SourceEvent::SenderText { source, t_ms, text } => {
                self.notice(Some(source), t_ms, format!("the sender says: {text}"));
                self.last_values.sender_text(source, text);
            }
            SourceEvent::Unknown {
                source,
                t_ms,
                names,
            } => {
                let text = format!("feeds no channel of the rig: {}", names.join(", "));
                self.notice(Some(source), t_ms, text);
                self.last_values.unknown(source, names);
            }
        }
        if self.clock.boot_ms().since(self.last_commit_ms) >= self.commit_ms() {
            self.commit(command);
        }
    }

    fn take_items(&mut self, items: Vec<Item>) {
        for item in items {
            match item.payload {
                Payload::Reading(channel, value) => {
                    self.last_values.reading(channel, item.t_ms, value);
                }
                Payload::Heard(source) => self.last_values.heard(usize::from(source), item.t_ms),
                // Dates in sentences are no better than the machine's own clock.
                Payload::Alive | Payload::Clock(_) => {}
            }
            self.builder.push(item);
        }
    }

    /// Time passes: to be called about every second.
    pub(crate) fn pass(&mut self, command: &mut dyn FnMut(StorageCommand)) {
        self.look_for_pause();
        let now_ms = self.clock.boot_ms();
        self.look_at_clock(command);
        if now_ms >= self.silence_grace_until_ms {
            self.builder.pipeline_mut().advance(now_ms);
        }
        if now_ms.since(self.last_counters_ms) >= COUNTERS_EVERY_MS {
            self.last_counters_ms = now_ms;
            self.builder.pipeline_mut().note_counters(now_ms);
        }
        if now_ms.since(self.last_commit_ms) >= self.commit_ms() {
            self.commit(command);
        }
    }

    /// Finds a pause of the whole process; it was no silence of any source.
    fn look_for_pause(&mut self) {
        let Some(pause) = self.pauses.round(self.clock.boot_ms()) else {
            return;
        };
        for source in 0..self.builder.rig().sources.len() {
            let (from_ms, to_ms) = (pause.from_ms, pause.to_ms);
            self.builder
                .pipeline_mut()
                .paused(source, from_ms, to_ms, false);
        }
        // Readings of the pause still wait in the kernel, some with their true
        // times: give them time to come.
        self.silence_grace_until_ms = pause.to_ms.plus(SILENCE_GRACE_MS);
        let s = pause.to_ms.since(pause.from_ms) as f64 / 1000.0;
        self.notice(
            None,
            pause.to_ms,
            format!("the recorder was paused for {s:.1} s"),
        );
    }

    /// The session ends: everything held is sent to be stored.
    pub(crate) fn finish(mut self, reason: EndReason, command: &mut dyn FnMut(StorageCommand)) {
        self.look_at_clock(command);
        let boot_ms = self.clock.boot_ms();
        self.builder.finish(boot_ms, reason, command);
    }

    /// Note something about the recorder itself.
    pub(crate) fn note(&mut self, text: String) {
        let now_ms = self.clock.boot_ms();
        self.notice(None, now_ms, text);
    }

    /// Sources as they are now, for the status.
    pub(crate) fn sources(&self) -> Vec<SourceStatus> {
        let now_ms = self.clock.boot_ms();
        let asleep = |source| self.builder.pipeline().asleep(source, now_ms);
        self.last_values
            .sources(self.builder.rig(), now_ms, &asleep)
    }

    /// Channels as they are now, for the status.
    pub(crate) fn channels(&self) -> Vec<ChannelStatus> {
        let now_ms = self.clock.boot_ms();
        let asleep = |source| self.builder.pipeline().asleep(source, now_ms);
        self.last_values
            .channels(self.builder.rig(), now_ms, &asleep)
    }

    fn notice(&mut self, source: Option<usize>, t_ms: BootMs, text: String) {
        self.builder.notice(source, t_ms, text);
    }

    fn look_at_clock(&mut self, command: &mut dyn FnMut(StorageCommand)) {
        let (boot_ms, wall_ms) = (self.clock.boot_ms(), self.clock.wall_ms());
        if let Some(note) = self.clock_tracker.look(boot_ms, wall_ms, (self.synced)()) {
            command(StorageCommand::Clock(note));
        }
    }

    fn commit(&mut self, command: &mut dyn FnMut(StorageCommand)) {
        self.last_commit_ms = self.clock.boot_ms();
        self.builder.commit(command);
    }

    /// Time between commits: rare while nothing moves, and at once the usual one
    /// when something does.
    fn commit_ms(&self) -> i64 {
        let recorder = &self.builder.rig().recorder;
        let seconds = if self.builder.pipeline().at_rest(self.clock.boot_ms()) {
            recorder.rest_commit_s
        } else {
            recorder.commit_s
        };
        (seconds * 1000.0) as i64
    }
}
