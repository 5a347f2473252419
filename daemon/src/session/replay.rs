//! The sessions of recorded files: a power-off seen in them ends one, the next
//! reading begins another.

use super::{SessionBuilder, StorageCommand};
use crate::counts::Counts;
use crate::source::{Item, Payload};
use crate::time::ClockNote;
use seep_common::rig::Rig;
use seep_common::store::{ClockState, EndReason};
use seep_common::time::{BootMs, WallMs};

/// A transaction holds about this many ticks: large enough that syncs cost
/// little, small enough that memory stays flat.
const TICKS_PER_COMMIT: usize = 20_000;

/// Takes items in the order of time and splits them into sessions.
pub(crate) struct ReplaySessions {
    builder: SessionBuilder,
    /// Of each source of the rig, whether a file feeds it.
    fed: Vec<bool>,
    power_off_ms: i64,
    /// Wall time minus item time, ms.
    wall_offset_ms: i64,
    recording: bool,
    last_ms: Option<BootMs>,
    wall_ms: Option<(WallMs, WallMs)>,
}

impl ReplaySessions {
    /// Returns sessions of a rig of which files feed some sources. None begins
    /// before the first reading.
    pub(crate) fn new(rig: &Rig, fed: &[bool]) -> Self {
        ReplaySessions {
            builder: SessionBuilder::new(rig),
            fed: fed.to_vec(),
            power_off_ms: (rig.recorder.power_off_s * 1000.0) as i64,
            wall_offset_ms: 0,
            recording: false,
            last_ms: None,
            wall_ms: None,
        }
    }

    /// Returns what was counted so far.
    pub(crate) fn counts(&self) -> &Counts {
        self.builder.counts()
    }

    /// Returns what was counted so far, for inputs to count into.
    pub(crate) fn counts_mut(&mut self) -> &mut Counts {
        self.builder.counts_mut()
    }

    /// Returns the first and the last wall time recorded.
    pub(crate) fn wall_ms(&self) -> Option<(WallMs, WallMs)> {
        self.wall_ms
    }

    /// Takes an item.
    pub(crate) fn push(&mut self, item: Item, command: &mut dyn FnMut(StorageCommand)) {
        if let Some(last_ms) = self.last_ms
            && item.t_ms.since(last_ms) > self.power_off_ms
        {
            self.end(last_ms, command);
        }
        self.last_ms = Some(self.last_ms.map_or(item.t_ms, |l| l.max(item.t_ms)));
        match item.payload {
            Payload::Clock(offset_ms) => self.step_clock(item.t_ms, offset_ms, command),
            Payload::Reading(..) if !self.recording => self.begin(item.t_ms, command),
            _ => {}
        }
        self.builder.push(item);
        if self.recording && self.builder.waiting_ticks() >= TICKS_PER_COMMIT {
            self.builder.commit(command);
        }
    }

    /// Ends the recording.
    pub(crate) fn finish(&mut self, command: &mut dyn FnMut(StorageCommand)) {
        if let Some(last_ms) = self.last_ms {
            self.end(last_ms, command);
        }
    }

    fn begin(&mut self, t_ms: BootMs, command: &mut dyn FnMut(StorageCommand)) {
        // The order of a recording is its own time, whatever its clock said.
        self.builder
            .begin(t_ms, t_ms.on_wall(0), &self.fed, command);
        self.recording = true;
        self.note_clock(t_ms, command);
        let wall_ms = t_ms.on_wall(self.wall_offset_ms);
        let (first, _) = self.wall_ms.unwrap_or((wall_ms, wall_ms));
        self.wall_ms = Some((first, wall_ms));
    }

    fn end(&mut self, last_ms: BootMs, command: &mut dyn FnMut(StorageCommand)) {
        if !std::mem::take(&mut self.recording) {
            return;
        }
        let reason = EndReason::LogEnded;
        self.builder.finish(last_ms.plus(1), reason, command);
        if let Some((first, _)) = self.wall_ms {
            self.wall_ms = Some((first, last_ms.on_wall(self.wall_offset_ms)));
        }
    }

    fn step_clock(
        &mut self,
        t_ms: BootMs,
        offset_ms: i64,
        command: &mut dyn FnMut(StorageCommand),
    ) {
        self.wall_offset_ms = offset_ms;
        if self.recording {
            self.note_clock(t_ms, command);
        }
    }

    fn note_clock(&mut self, t_ms: BootMs, command: &mut dyn FnMut(StorageCommand)) {
        command(StorageCommand::Clock(ClockNote {
            noted_boot_ms: t_ms,
            from_boot_ms: t_ms,
            whole_boot: false,
            offset_ms: self.wall_offset_ms,
            state: ClockState::AsRecorded,
        }));
    }
}
