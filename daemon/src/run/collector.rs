//! Turns the events of live sources into commands for the storage thread.

use super::last_values::LastValues;
use super::status::{ChannelStatus, SourceStatus};
use crate::clock::Clock;
use crate::pause::PauseDetector;
use crate::pipeline::Pipeline;
use crate::source::live::SourceEvent;
use crate::source::{Item, Payload};
use crate::storage::StorageCommand;
use crate::time::ClockTracker;
use seep_common::rig::Rig;
use seep_common::store::{EndReason, Notice};
use std::sync::Arc;

/// Counters become rows this often, ms: often enough to place a trouble, seldom
/// enough not to wear the card.
const COUNTERS_EVERY_MS: i64 = 60_000;

/// After a pause of the whole process it waits this long before it lets time pass for silent channels, ms.
const SILENCE_GRACE_MS: i64 = 10_000;

/// Collects one session. Plain: no task, no thread, no clock of its own choice.
pub(crate) struct Collector {
    rig: Rig,
    pipeline: Pipeline,
    clock_tracker: ClockTracker,
    clock: Arc<dyn Clock>,
    synced: fn() -> bool,
    last_values: LastValues,
    last_commit_ms: i64,
    last_counters_ms: i64,
    pauses: PauseDetector,
    silence_grace_until_ms: i64,
}

impl Collector {
    /// Begins a session; commands go to `command`.
    pub(crate) fn begin(
        rig: &Rig,
        clock: Arc<dyn Clock>,
        synced: fn() -> bool,
        command: &mut dyn FnMut(StorageCommand),
    ) -> Self {
        let boot_ms = clock.boot_ms();
        command(StorageCommand::Begin {
            rig: Box::new(rig.clone()),
            boot_ms,
            wall_ms: clock.wall_ms(),
        });
        let mut pipeline = Pipeline::new(rig);
        let expected: Vec<bool> = rig.sources.iter().map(|s| s.kind.is_live()).collect();
        pipeline.begin(boot_ms, &expected);
        let mut collector = Collector {
            last_values: LastValues::new(rig, boot_ms),
            rig: rig.clone(),
            pipeline,
            clock_tracker: ClockTracker::default(),
            clock,
            synced,
            last_commit_ms: boot_ms,
            last_counters_ms: boot_ms,
            pauses: PauseDetector::default(),
            silence_grace_until_ms: boot_ms,
        };
        collector.look_at_clock(command);
        collector
    }

    /// Takes an event of a source.
    pub(crate) fn take(&mut self, word: SourceEvent, command: &mut dyn FnMut(StorageCommand)) {
        self.look_for_pause();
        match word {
            SourceEvent::Items(items) => self.take_items(items),
            SourceEvent::Lost {
                source,
                t_ms,
                cause,
            } => {
                self.pipeline.lost(source, &cause);
                self.last_values.lost(source, &cause);
                self.notice(Some(source), t_ms, format!("cannot be read: {cause}"));
            }
            SourceEvent::Back { source, t_ms } => {
                self.last_values.back(source);
                self.notice(Some(source), t_ms, "can be read again".into());
            }
            SourceEvent::Counters { source, totals } => {
                self.pipeline.counts_mut().tell(source, totals);
            }
            SourceEvent::Paused { source, pause } => {
                let (from_ms, to_ms) = (pause.from_ms, pause.to_ms);
                self.pipeline.paused(source, from_ms, to_ms, true);
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
        if self.clock.boot_ms() - self.last_commit_ms >= self.commit_ms() {
            self.commit(command);
        }
    }

    fn take_items(&mut self, items: Vec<Item>) {
        for Item { t_ms, payload } in items {
            match payload {
                Payload::Reading(channel, value) => {
                    self.pipeline.push(channel, t_ms, value);
                    self.last_values.reading(channel, t_ms, value);
                }
                Payload::Heard(source) => {
                    self.pipeline.heard(usize::from(source), t_ms);
                    self.last_values.heard(usize::from(source), t_ms);
                }
                Payload::Alive => self.pipeline.advance(t_ms),
                // Dates in sentences are no better than the machine's own clock.
                Payload::Clock(_) => {}
            }
        }
    }

    /// Time passes: to be called about every second.
    pub(crate) fn pass(&mut self, command: &mut dyn FnMut(StorageCommand)) {
        self.look_for_pause();
        let now_ms = self.clock.boot_ms();
        self.look_at_clock(command);
        if now_ms >= self.silence_grace_until_ms {
            self.pipeline.advance(now_ms);
        }
        if now_ms - self.last_counters_ms >= COUNTERS_EVERY_MS {
            self.last_counters_ms = now_ms;
            self.pipeline.note_counters(now_ms);
        }
        if now_ms - self.last_commit_ms >= self.commit_ms() {
            self.commit(command);
        }
    }

    /// Finds a pause of the whole process; it was no silence of any source.
    fn look_for_pause(&mut self) {
        let Some(pause) = self.pauses.round(self.clock.boot_ms()) else {
            return;
        };
        for source in 0..self.rig.sources.len() {
            let (from_ms, to_ms) = (pause.from_ms, pause.to_ms);
            self.pipeline.paused(source, from_ms, to_ms, false);
        }
        // Readings of the pause still wait in the kernel, some with their true
        // times: give them time to come.
        self.silence_grace_until_ms = pause.to_ms + SILENCE_GRACE_MS;
        let s = (pause.to_ms - pause.from_ms) as f64 / 1000.0;
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
        self.pipeline.finish(boot_ms);
        self.commit(command);
        command(StorageCommand::End { boot_ms, reason });
    }

    /// Note something about the recorder itself.
    pub(crate) fn note(&mut self, text: String) {
        let now_ms = self.clock.boot_ms();
        self.notice(None, now_ms, text);
    }

    /// Sources as they are now, for the status.
    pub(crate) fn sources(&self) -> Vec<SourceStatus> {
        let now_ms = self.clock.boot_ms();
        let asleep = |source| self.pipeline.asleep(source, now_ms);
        self.last_values.sources(&self.rig, now_ms, &asleep)
    }

    /// Channels as they are now, for the status.
    pub(crate) fn channels(&self) -> Vec<ChannelStatus> {
        let now_ms = self.clock.boot_ms();
        let asleep = |source| self.pipeline.asleep(source, now_ms);
        self.last_values.channels(&self.rig, now_ms, &asleep)
    }

    fn notice(&mut self, source: Option<usize>, t_ms: i64, text: String) {
        let source = source.and_then(|s| self.rig.sources.get(s));
        self.pipeline.batch_mut().notices.push(Notice {
            t_ms,
            source: source.map(|s| s.name.clone()),
            text,
        });
    }

    fn look_at_clock(&mut self, command: &mut dyn FnMut(StorageCommand)) {
        let (boot_ms, wall_ms) = (self.clock.boot_ms(), self.clock.wall_ms());
        if let Some(note) = self.clock_tracker.look(boot_ms, wall_ms, (self.synced)()) {
            command(StorageCommand::Clock(note));
        }
    }

    fn commit(&mut self, command: &mut dyn FnMut(StorageCommand)) {
        self.last_commit_ms = self.clock.boot_ms();
        let batch = self.pipeline.take_batch();
        if !batch.is_empty() {
            command(StorageCommand::Store(batch));
        }
    }

    /// Time between commits: rare while nothing moves, and at once the usual one
    /// when something does.
    fn commit_ms(&self) -> i64 {
        let recorder = &self.rig.recorder;
        let seconds = if self.pipeline.at_rest(self.clock.boot_ms()) {
            recorder.rest_commit_s
        } else {
            recorder.commit_s
        };
        (seconds * 1000.0) as i64
    }
}
