//! From items to the log: sessions, log time, clock rows, commits.

use crate::counts::{Count, Counts};
use crate::exit::{Exit, Failure};
use crate::pipeline::Pipeline;
use crate::source::{Item, Payload};
use seep_common::rig::Rig;
use seep_common::store::cause::POWER_OFF;
use seep_common::store::{
    Batch, ClockRow, ClockState, Counter, EndReason, Gap, SessionId, SessionStart, StoreError,
    Writer,
};
use std::path::{Path, PathBuf};

/// A transaction holds about this many ticks: large enough that syncs cost
/// little, small enough that memory stays flat.
const TICKS_PER_COMMIT: usize = 20_000;

/// A log that ends later is not added to, ms: twice the last time an input may
/// have, so that no sum of times overflows.
const LATEST_LOG_MS: i64 = 2 * 7_258_118_400_000;

/// Where the log is and how it may be made.
#[derive(Debug, Clone)]
pub(crate) struct Target {
    pub path: PathBuf,
    pub append: bool,
}

/// What a recording came to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Summary {
    /// Rows stored.
    pub ticks: u64,
    /// Sessions made.
    pub sessions: u64,
    /// First and last wall time, ms.
    pub wall_ms: Option<(i64, i64)>,
}

/// Takes items in the order of time and stores them.
pub(crate) struct Recorder {
    rig: Rig,
    target: Target,
    origin: String,
    fed: Vec<bool>,
    pipeline: Pipeline,
    writer: Option<Writer>,
    session: Option<SessionId>,
    /// Log time minus item time, ms.
    shift_ms: i64,
    /// Wall time minus item time, ms.
    wall_offset_ms: i64,
    last_ms: Option<i64>,
    ended_ms: Option<i64>,
    summary: Summary,
}

impl Recorder {
    /// Nothing is made before the first reading arrives.
    pub(crate) fn new(rig: &Rig, target: Target, origin: &str, fed: &[bool]) -> Self {
        Recorder {
            pipeline: Pipeline::new(rig),
            rig: rig.clone(),
            target,
            origin: origin.into(),
            fed: fed.to_vec(),
            writer: None,
            session: None,
            shift_ms: 0,
            wall_offset_ms: 0,
            last_ms: None,
            ended_ms: None,
            summary: Summary::default(),
        }
    }

    /// Counts of everything so far.
    pub(crate) fn counts_mut(&mut self) -> &mut Counts {
        self.pipeline.counts_mut()
    }

    /// Counts of everything so far.
    pub(crate) fn counts(&self) -> &Counts {
        self.pipeline.counts()
    }

    /// Take one item.
    ///
    /// # Errors
    /// The log's.
    pub(crate) fn push(&mut self, item: Item) -> Result<(), Failure> {
        let power_off_ms = (self.rig.recorder.power_off_s * 1000.0) as i64;
        if let Some(last_ms) = self.last_ms
            && item.t_ms - last_ms > power_off_ms
        {
            self.end_session(last_ms)?;
        }
        self.last_ms = Some(self.last_ms.map_or(item.t_ms, |l| l.max(item.t_ms)));
        let t_ms = item.t_ms + self.shift_ms;
        match item.payload {
            Payload::Clock(offset_ms) => self.step_clock(item.t_ms, offset_ms),
            Payload::Heard(source) => self.pipeline.heard(usize::from(source), t_ms),
            Payload::Alive => self.pipeline.advance(t_ms),
            Payload::Reading(channel, value) => {
                if self.session.is_none() {
                    self.begin_session(item.t_ms)?;
                }
                self.pipeline
                    .push(channel, item.t_ms + self.shift_ms, value);
            }
        }
        if self.pipeline.batch_mut().ticks.len() >= TICKS_PER_COMMIT {
            self.commit()?;
        }
        Ok(())
    }

    /// End the recording and close the log; `None` when nothing was recorded.
    ///
    /// # Errors
    /// The log's.
    pub(crate) fn finish(mut self) -> Result<(Option<Summary>, Counts), Failure> {
        if let Some(last_ms) = self.last_ms {
            self.end_session(last_ms)?;
        }
        let counts = self.pipeline.counts().clone();
        let Some(writer) = self.writer.take() else {
            return Ok((None, counts));
        };
        writer.close().map_err(failure)?;
        Ok((Some(self.summary), counts))
    }

    fn step_clock(&mut self, t_item_ms: i64, offset_ms: i64) {
        self.wall_offset_ms = offset_ms;
        if self.session.is_some() {
            let row = self.clock_row(t_item_ms);
            self.pipeline.batch_mut().clock.push(row);
        }
    }

    fn clock_row(&self, t_item_ms: i64) -> ClockRow {
        let t_ms = t_item_ms + self.shift_ms;
        ClockRow {
            noted_t_ms: t_ms,
            from_t_ms: t_ms,
            offset_ms: self.wall_offset_ms - self.shift_ms,
            state: ClockState::AsRecorded,
        }
    }

    fn begin_session(&mut self, t_item_ms: i64) -> Result<(), Failure> {
        let writer = match &mut self.writer {
            Some(writer) => writer,
            none => none.insert(open_log(&self.target)?),
        };
        // Log time never goes back: a log that ends later pushes this one on.
        let earliest_ms = writer.last_t_ms().map_or(i64::MIN, |last| last + 1);
        let previous_ms = writer.last_t_ms();
        if t_item_ms + self.shift_ms < earliest_ms {
            self.shift_ms = earliest_ms - t_item_ms;
        }
        let t_ms = t_item_ms + self.shift_ms;
        let start = SessionStart {
            boot_id: "replay".into(),
            t_ms,
            program: crate::PROGRAM.into(),
            origin: self.origin.clone(),
            start_boot_ms: None,
        };
        self.session = Some(writer.begin_session(&start, &self.rig).map_err(failure)?);
        self.pipeline.begin(t_ms, &self.fed);
        let row = self.clock_row(t_item_ms);
        let batch = self.pipeline.batch_mut();
        batch.clock.push(row);
        if let Some(from_t_ms) = self.ended_ms.or(previous_ms) {
            batch.gaps.push(Gap {
                from_t_ms,
                to_t_ms: t_ms,
                cause: POWER_OFF.into(),
                what: None,
            });
        }
        self.summary.sessions += 1;
        let wall_ms = t_item_ms + self.wall_offset_ms;
        let (first, _) = self.summary.wall_ms.unwrap_or((wall_ms, wall_ms));
        self.summary.wall_ms = Some((first, wall_ms));
        Ok(())
    }

    fn end_session(&mut self, last_item_ms: i64) -> Result<(), Failure> {
        let Some(session) = self.session else {
            return Ok(());
        };
        let end_ms = last_item_ms + self.shift_ms + 1;
        self.pipeline.finish(end_ms);
        self.commit()?;
        self.session = None;
        self.ended_ms = Some(end_ms);
        if let Some((first, _)) = self.summary.wall_ms {
            self.summary.wall_ms = Some((first, last_item_ms + self.wall_offset_ms));
        }
        match &mut self.writer {
            Some(writer) => writer
                .end_session(session, end_ms, EndReason::LogEnded)
                .map_err(failure),
            None => Ok(()),
        }
    }

    fn commit(&mut self) -> Result<(), Failure> {
        let (Some(writer), Some(session)) = (&mut self.writer, self.session) else {
            return Ok(());
        };
        let batch: Batch = self.pipeline.take_batch();
        writer.append(session, &batch).map_err(failure)?;
        self.summary.ticks += batch.ticks.len() as u64;
        Ok(())
    }
}

fn open_log(target: &Target) -> Result<Writer, Failure> {
    let opened = if target.append && target.path.exists() {
        Writer::open(&target.path)
    } else {
        Writer::create(&target.path)
    };
    let writer = opened.map_err(failure)?;
    match writer.last_t_ms() {
        Some(last_ms) if last_ms > LATEST_LOG_MS => Err(Failure::say(
            Exit::Data,
            format!(
                "{}: its last row lies beyond the year 2200, which no recorder wrote; record into another log",
                target.path.display()
            ),
        )),
        _ => Ok(writer),
    }
}

/// Say before anything is read that a log would be written over.
///
/// # Errors
/// 73 when it exists and may not be added to; 65 when it is no log.
pub(crate) fn check_target(target: &Target) -> Result<(), Failure> {
    if !target.path.exists() {
        return Ok(());
    }
    if !target.append {
        return Err(failure(StoreError::Exists {
            path: target.path.clone(),
        }));
    }
    check_log(&target.path)
}

/// Say what is wrong with a log, without changing it.
///
/// # Errors
/// 66, 65 or 74 by what is wrong.
pub(crate) fn check_log(path: &Path) -> Result<(), Failure> {
    match seep_common::store::Reader::open(path) {
        Ok(_) | Err(StoreError::NothingYet { .. }) => Ok(()),
        Err(other) => Err(failure(other)),
    }
}

pub(crate) fn failure(error: StoreError) -> Failure {
    let exit = match &error {
        StoreError::NotFound { .. } | StoreError::NotAllowed { .. } => Exit::NoInput,
        StoreError::NotSqlite { .. }
        | StoreError::NotAFile { .. }
        | StoreError::NothingYet { .. }
        | StoreError::Trap { .. }
        | StoreError::OtherApplication { .. }
        | StoreError::NewerSchema { .. }
        | StoreError::Damaged { .. }
        | StoreError::OutOfOrder { .. } => Exit::Data,
        StoreError::Exists { .. } | StoreError::DeadLink { .. } => Exit::CannotCreate,
        StoreError::Locked { .. } => Exit::Temporary,
        StoreError::Io { doing, .. } if doing.contains("creating") => Exit::CannotCreate,
        StoreError::Sqlite { .. } | StoreError::Io { .. } | StoreError::Unreadable { .. } => {
            Exit::Io
        }
    };
    Failure::new(exit, error)
}

/// Counts of trouble, in words, for the summary of a replay.
pub(crate) fn troubles(counts: &Counts) -> Vec<String> {
    let mut out: Vec<String> = Count::ALL
        .iter()
        .filter(|k| !k.is_volume() && counts.sum(**k) > 0)
        .map(|k| format!("{} {}", counts.sum(*k), k.word()))
        .collect();
    out.extend(
        counts
            .told()
            .into_iter()
            .map(|(name, n)| (name.replace('_', " "), n))
            .filter(|(name, _)| !Counter::is_work(name))
            .map(|(name, n)| format!("{n} {name}")),
    );
    out
}
