//! One session after another: items in, commands for the log out.

use super::StorageCommand;
use crate::counts::Counts;
use crate::pipeline::Pipeline;
use crate::source::{Item, Payload};
use seep_common::rig::Rig;
use seep_common::store::{EndReason, Notice};
use seep_common::time::{BootMs, WallMs};

/// Builds the sessions of a live recording or of a replay.
///
/// Times are boot time, ms; in a replay the recording's own time.
pub(crate) struct SessionBuilder {
    rig: Rig,
    pipeline: Pipeline,
}

impl SessionBuilder {
    /// Returns a builder without a session.
    pub(crate) fn new(rig: &Rig) -> Self {
        SessionBuilder {
            rig: rig.clone(),
            pipeline: Pipeline::new(rig),
        }
    }

    /// Begins a session. `expected` says of each source of the rig whether its
    /// silence leaves a gap; `wall_ms` is where log time goes on when no earlier
    /// session says otherwise.
    pub(crate) fn begin(
        &mut self,
        boot_ms: BootMs,
        wall_ms: WallMs,
        expected: &[bool],
        command: &mut dyn FnMut(StorageCommand),
    ) {
        command(StorageCommand::Begin {
            rig: Box::new(self.rig.clone()),
            boot_ms,
            wall_ms,
        });
        self.pipeline.begin(boot_ms, expected);
    }

    /// Takes an item. What it says of a clock is its owner's business.
    #[inline]
    pub(crate) fn push(&mut self, item: Item) {
        match item.payload {
            Payload::Reading(channel, value) => self.pipeline.push(channel, item.t_ms, value),
            Payload::Heard(source) => self.pipeline.heard(usize::from(source), item.t_ms),
            Payload::Alive => self.pipeline.advance(item.t_ms),
            Payload::Clock(_) => {}
        }
    }

    /// Notes something for the reader of the log, about a source or the recorder.
    pub(crate) fn notice(&mut self, source: Option<usize>, t_ms: BootMs, text: String) {
        let source = source.and_then(|s| self.rig.sources.get(s));
        self.pipeline.batch_mut().notices.push(Notice {
            t_ms,
            source: source.map(|s| s.name.clone()),
            text,
        });
    }

    /// Hands over the rows finished so far.
    pub(crate) fn commit(&mut self, command: &mut dyn FnMut(StorageCommand)) {
        let batch = self.pipeline.take_batch();
        if !batch.is_empty() {
            command(StorageCommand::Store(batch));
        }
    }

    /// Ends the session: everything held becomes rows.
    pub(crate) fn finish(
        &mut self,
        boot_ms: BootMs,
        reason: EndReason,
        command: &mut dyn FnMut(StorageCommand),
    ) {
        self.pipeline.finish(boot_ms);
        self.commit(command);
        command(StorageCommand::End { boot_ms, reason });
    }

    /// Returns how many rows wait for a commit.
    pub(crate) fn waiting_ticks(&self) -> usize {
        self.pipeline.batch().ticks.len()
    }

    /// Returns what was counted, over all sessions.
    pub(crate) fn counts(&self) -> &Counts {
        self.pipeline.counts()
    }

    /// Returns what was counted, for sources to count into.
    pub(crate) fn counts_mut(&mut self) -> &mut Counts {
        self.pipeline.counts_mut()
    }

    /// Returns the rig that is recorded.
    pub(crate) fn rig(&self) -> &Rig {
        &self.rig
    }

    /// Returns the pipeline: silence, pauses and rest of a live recording.
    pub(crate) fn pipeline(&self) -> &Pipeline {
        &self.pipeline
    }

    /// Returns the pipeline, for what only a live recording learns.
    pub(crate) fn pipeline_mut(&mut self) -> &mut Pipeline {
        &mut self.pipeline
    }
}
