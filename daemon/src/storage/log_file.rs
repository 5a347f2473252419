//! Carries out commands on the log.

use super::backlog::Lost;
use super::origin::Origin;
use super::shift::clock_row;
use super::unsettled::{StoredHere, Unsettled};
use crate::session::StorageCommand;
use crate::time::{ClockNote, PreviousSession, log_shift_ms};
use seep_common::rig::Rig;
use seep_common::store::cause::{NOT_RUNNING, NOT_STORED, POWER_OFF};
use seep_common::store::{
    Batch, ClockRow, ClockState, Counter, EndReason, Gap, Notice, SessionId, StoreError, Writer,
    set_aside,
};
use seep_common::time::{BootMs, LogMs, WallMs};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// A commit waits no longer than this for another connection; then it is tried
/// again, so that a stop is never held up.
const BUSY: Duration = Duration::from_secs(2);

/// A log that the disk does not give is waited for this long and tried at least
/// so often; then it is set aside, whole as it is, and recording begins afresh.
const UNREADABLE: (Duration, u32) = (Duration::from_secs(30), 5);

/// A log that so often in a row seemed damaged is, whatever the checks say.
const MOST_SUSPICIONS: u32 = 3;

/// So many clock rows are remembered, the newest: a clock that drifts by 50 parts in
/// a million is noted once in an hour (`DRIFT_MS`), and rows wait for hours at most.
const MOST_CLOCK_ROWS: usize = 1_000;

/// The log and the session in it.
pub(crate) struct LogFile {
    pub(super) path: PathBuf,
    pub(super) origin: Origin,
    pub(super) writer: Option<Writer>,
    pub(super) current: Option<Current>,
    /// Rows that go with the next batch.
    pub(super) extra: Batch,
    /// The connection must be renewed before anything else.
    broken: bool,
    /// Where a damaged log went.
    pub(super) set_aside: Option<PathBuf>,
    /// Since when, and how often, the disk has not given the log.
    unreadable: Option<(Instant, u32)>,
    /// How often in a row the log seemed damaged and was found sound.
    suspicions: u32,
    /// A commit failed in a way that leaves open whether it was stored.
    unsure: bool,
    /// Rows that this process stored in the file that is open now.
    pub(super) stored_here: StoredHere,
    /// A change of the file whose consequences are still to be found out.
    pub(super) unsettled: Option<Unsettled>,
    /// What another program did to the log, for the status.
    pub(super) changed: Option<String>,
    /// Rows called stored that another program destroyed, still to be counted.
    pub(super) destroyed: u64,
    /// Rows given up before there was a session that could tell it.
    unreported: Lost,
}

/// The session being recorded.
pub(super) struct Current {
    pub(super) id: SessionId,
    pub(super) rig: Box<Rig>,
    /// Log time minus boot time, ms.
    pub(super) shift_ms: i64,
    /// First log time of this boot's first session on the same scale, ms.
    pub(super) boot_from_t_ms: LogMs,
    pub(super) start_t_ms: LogMs,
    /// Clock rows of this session, as noted: rows that wait may be older than the
    /// newest, and a file begun meanwhile needs all that date them.
    pub(super) clock: Vec<ClockRow>,
}

impl LogFile {
    /// For a log that is opened, or made, with the first session.
    pub(crate) fn new(path: PathBuf, boot_id: String) -> Self {
        LogFile::with_origin(path, Origin::Live { boot_id })
    }

    /// For a replay of these inputs into a log that is open.
    pub(super) fn of_replay(path: PathBuf, writer: Writer, names: &str) -> Self {
        LogFile {
            writer: Some(writer),
            ..LogFile::with_origin(path, Origin::replay(names))
        }
    }

    fn with_origin(path: PathBuf, origin: Origin) -> Self {
        LogFile {
            path,
            origin,
            writer: None,
            current: None,
            extra: Batch::default(),
            broken: false,
            set_aside: None,
            unreadable: None,
            suspicions: 0,
            unsure: false,
            stored_here: StoredHere::default(),
            unsettled: None,
            changed: None,
            destroyed: 0,
            unreported: Lost::default(),
        }
    }

    /// Carries out a command; returns how many rows it stored. After an error the
    /// same command can be tried again.
    pub(super) fn carry_out(&mut self, command: &StorageCommand) -> Result<u64, StoreError> {
        // Frames written into a log that was cut short would hide the cut. What
        // fails here fails below again, where it is dealt with.
        let _ = self.look_after_file();
        let mut done = self.try_once(command);
        if done.as_ref().is_err_and(StoreError::is_in_the_way) {
            self.move_past_foreign_rows(command)?;
            done = self.try_once(command);
        }
        match &done {
            Ok(_) => {
                self.suspicions = 0;
                // What was stored is stored; a new file that cannot be made now
                // is made with the next command.
                if let Err(e) = self.look_after_file() {
                    tracing::error!("{e}");
                }
            }
            // The connection is as good as it was.
            Err(e) if e.is_full() || e.is_busy() => {}
            Err(_) if self.look_after_file().is_ok_and(|changed| changed) => {}
            Err(e @ (StoreError::Damaged { .. } | StoreError::NotSqlite { .. })) => {
                self.look_again(e)?;
            }
            Err(_) => {
                self.broken = true;
                self.unsure = true;
            }
        }
        done
    }

    /// Executes a command once; what fails is not tried again.
    pub(super) fn execute(&mut self, command: StorageCommand) -> Result<u64, StoreError> {
        match command {
            StorageCommand::Store(batch) => self.store(batch),
            other => self.try_once(&other),
        }
    }

    fn try_once(&mut self, command: &StorageCommand) -> Result<u64, StoreError> {
        if self.broken
            && let Some(writer) = &mut self.writer
        {
            writer.reconnect()?;
        }
        self.broken = false;
        // A new file could not be begun when the damaged one was set aside.
        if self.writer.is_none() && self.current.is_some() {
            self.go_on_afresh()?;
        }
        match command {
            StorageCommand::Begin {
                rig,
                boot_ms,
                wall_ms,
            } => self.begin(rig, *boot_ms, *wall_ms).map(|()| 0),
            StorageCommand::Store(batch) => self.store(batch.clone()),
            StorageCommand::Clock(note) => self.note_clock(note).map(|()| 0),
            StorageCommand::End { boot_ms, reason } => self.end(*boot_ms, *reason).map(|()| 0),
        }
    }

    fn begin(&mut self, rig: &Rig, boot_ms: BootMs, wall_ms: WallMs) -> Result<(), StoreError> {
        if self.writer.is_none() {
            let opened = self.open()?;
            self.settle(&opened)?;
            self.writer = Some(opened);
        }
        let Some(writer) = &mut self.writer else {
            return Ok(());
        };
        let of_boot = self.origin.sessions_of_boot(writer)?;
        let earlier = PreviousSession {
            last_t_ms: writer.last_t_ms(),
            same_boot_shift_ms: self.origin.same_boot_shift_ms(&of_boot),
        };
        let shift_ms = log_shift_ms(earlier, boot_ms, wall_ms);
        let t_ms = boot_ms.on_log(shift_ms);
        let same_scale = of_boot
            .iter()
            .find(|(_, t, b)| t.minus_boot(*b) == shift_ms);
        let start = self.origin.session(t_ms, boot_ms);
        let id = writer.begin_session(&start, rig)?;
        if let Some(from_t_ms) = earlier.last_t_ms {
            self.extra.gaps.push(Gap {
                from_t_ms,
                to_t_ms: t_ms,
                cause: if of_boot.is_empty() {
                    POWER_OFF
                } else {
                    NOT_RUNNING
                }
                .into(),
                what: None,
            });
        }
        self.current = Some(Current {
            id,
            rig: Box::new(rig.clone()),
            shift_ms,
            boot_from_t_ms: same_scale.map_or(t_ms, |(_, t, _)| *t),
            start_t_ms: t_ms,
            clock: Vec::new(),
        });
        self.origin.begun(shift_ms);
        let unreported = std::mem::take(&mut self.unreported);
        self.note_lost(&unreported);
        // A kill before the first rows must not take the reason of the silence
        // before this session. What fails here goes with the first rows.
        if let Err(e) = self.store(Batch::default()) {
            tracing::warn!("{e}");
        }
        Ok(())
    }

    fn open(&mut self) -> Result<Writer, StoreError> {
        let writer = self.open_or_begin()?;
        for moved in writer.moved_aside() {
            let text = format!(
                "{} was {} and was moved to {}",
                moved.from.display(),
                moved.what,
                moved.to.display()
            );
            tracing::error!("{text}");
            self.extra.notices.push(Notice {
                t_ms: LogMs::MIN,
                source: None,
                text: text.clone(),
            });
            self.changed = Some(text);
        }
        Ok(writer)
    }

    fn open_or_begin(&mut self) -> Result<Writer, StoreError> {
        if !self.path.exists() {
            self.stored_here = StoredHere::default();
            return with_busy_timeout(Writer::create(&self.path)?);
        }
        match Writer::open(&self.path) {
            Ok(writer) => {
                self.unreadable = None;
                with_busy_timeout(writer)
            }
            Err(e @ StoreError::Trap { .. }) => {
                self.put_aside("the log was not to be trusted and", &e)?;
                with_busy_timeout(Writer::create(&self.path)?)
            }
            Err(e @ (StoreError::Damaged { .. } | StoreError::NotSqlite { .. })) => {
                self.put_aside("the log was damaged and", &e)?;
                with_busy_timeout(Writer::create(&self.path)?)
            }
            Err(e) if e.is_unreadable() && self.waited_enough() => {
                self.put_aside("the disk did not give the log, which was", &e)?;
                with_busy_timeout(Writer::create(&self.path)?)
            }
            Err(other) => Err(other),
        }
    }

    /// One more attempt to read the log failed: has it been tried for long enough?
    fn waited_enough(&mut self) -> bool {
        let (since, tries) = self.unreadable.get_or_insert((Instant::now(), 0));
        *tries += 1;
        since.elapsed() >= UNREADABLE.0 && *tries >= UNREADABLE.1
    }

    fn put_aside(&mut self, why: &str, e: &StoreError) -> Result<(), StoreError> {
        tracing::error!("{e}; the log is set aside and a new one begun");
        let aside = set_aside(&self.path)?;
        self.unreadable = None;
        self.stored_here = StoredHere::default();
        self.changed = Some(format!("{why} set aside as {}: {e}", aside.display()));
        let name = aside.file_name().unwrap_or_default().to_string_lossy();
        self.extra.notices.push(Notice {
            t_ms: LogMs::MIN,
            source: None,
            text: format!("{why} set aside as {name}; a new one was begun ({e})"),
        });
        self.set_aside = Some(aside);
        Ok(())
    }

    /// The log seems damaged while recording. It is closed and looked at as at a
    /// start: sound, it is gone on with; damaged, or doubted again and again, it
    /// is set aside. Recording goes on on the same time scale.
    fn look_again(&mut self, e: &StoreError) -> Result<(), StoreError> {
        self.writer = None;
        self.suspicions += 1;
        if self.suspicions >= MOST_SUSPICIONS {
            self.suspicions = 0;
            self.put_aside("the log was damaged and", e)?;
        }
        if self.current.is_some() {
            self.go_on_afresh()?;
        }
        Ok(())
    }

    pub(super) fn go_on_afresh(&mut self) -> Result<(), StoreError> {
        let mut writer = self.open()?;
        if let Some(current) = &mut self.current {
            let after = writer.last_t_ms().map_or(LogMs::MIN, |t| t.plus(1));
            current.start_t_ms = current.start_t_ms.max(after);
            let boot_ms = current.start_t_ms.on_boot(current.shift_ms);
            let start = self.origin.session(current.start_t_ms, boot_ms);
            current.id = writer.begin_session(&start, &current.rig)?;
            self.extra.clock.extend(current.clock.iter().copied());
        }
        self.settle(&writer)?;
        self.writer = Some(writer);
        Ok(())
    }

    fn store(&mut self, rows: Batch<BootMs>) -> Result<u64, StoreError> {
        let (Some(writer), Some(current)) = (&mut self.writer, &self.current) else {
            return Ok(0);
        };
        let mut rows = rows.laid(|t| t.on_log(current.shift_ms));
        let ticks = rows.ticks.len() as u64;
        // A commit that failed may have reached the disk after all.
        if std::mem::take(&mut self.unsure) && writer.holds(&rows.ticks)? {
            self.stored_here.add(&rows.ticks);
            return Ok(ticks);
        }
        let extra = std::mem::take(&mut self.extra);
        rows.gaps.extend(extra.gaps.iter().cloned());
        rows.counters.extend(extra.counters.iter().cloned());
        rows.clock.extend(extra.clock.iter().copied());
        for notice in &extra.notices {
            let t_ms = notice.t_ms.max(current.start_t_ms);
            rows.notices.push(Notice {
                t_ms,
                ..notice.clone()
            });
        }
        let stored = writer.append(current.id, &rows);
        match &stored {
            Ok(()) => self.stored_here.add(&rows.ticks),
            Err(_) => self.extra = extra,
        }
        stored.map(|()| ticks)
    }

    fn note_clock(&mut self, note: &ClockNote) -> Result<(), StoreError> {
        let (Some(writer), Some(current)) = (&mut self.writer, &mut self.current) else {
            return Ok(());
        };
        let first_t_ms = if note.whole_boot {
            current.boot_from_t_ms
        } else {
            current.start_t_ms
        };
        let row = clock_row(note, current.shift_ms, first_t_ms);
        // A later row holds over those before it: what waits goes first.
        let mut clock = std::mem::take(&mut self.extra.clock);
        clock.push(row);
        let batch = Batch {
            clock,
            ..Batch::default()
        };
        if let Err(e) = writer.append(current.id, &batch) {
            self.extra.clock = batch.clock;
            self.extra.clock.pop();
            return Err(e);
        }
        if current.clock.len() == MOST_CLOCK_ROWS {
            current.clock.remove(0);
        }
        current.clock.push(row);
        Ok(())
    }

    fn end(&mut self, boot_ms: BootMs, reason: EndReason) -> Result<(), StoreError> {
        if !self.extra.is_empty() {
            self.store(Batch::default())?;
        }
        let (Some(writer), Some(current)) = (&mut self.writer, &self.current) else {
            return Ok(());
        };
        writer.end_session(current.id, boot_ms.on_log(current.shift_ms), reason)?;
        self.current = None;
        Ok(())
    }

    /// Rows were given up: a gap and a count go with the next batch.
    pub(super) fn note_lost(&mut self, lost: &Lost) {
        let Some(current) = &self.current else {
            self.unreported.add(lost);
            return;
        };
        let Some(gap) = lost.gap() else {
            return;
        };
        let gap = gap.laid(|t| t.on_log(current.shift_ms));
        self.extra.counters.push(Counter {
            t_ms: gap.to_t_ms,
            name: format!("rows lost, {NOT_STORED}"),
            source: "recorder".into(),
            count: i64::try_from(lost.ticks).unwrap_or(i64::MAX),
        });
        self.extra.gaps.push(gap);
    }

    /// Something about the recorder itself, to be noted with the next batch.
    pub(super) fn tell(&mut self, boot_ms: BootMs, text: String) {
        let Some(current) = &self.current else {
            return;
        };
        self.extra.notices.push(Notice {
            t_ms: boot_ms.on_log(current.shift_ms),
            source: None,
            text,
        });
    }

    /// Wall time of a boot time, ms, while the clock can be trusted.
    pub(super) fn known_wall_ms(&self, boot_ms: BootMs) -> Option<WallMs> {
        let current = self.current.as_ref()?;
        let newest = current.clock.last()?;
        let clock = (newest.state != ClockState::Unsynced).then_some(newest)?;
        Some(boot_ms.on_log(current.shift_ms).on_wall(clock.offset_ms))
    }

    /// Storing failed for a while and works again.
    pub(super) fn note_recovered(&mut self, text: String) {
        let t_ms = self.writer.as_ref().and_then(Writer::last_t_ms);
        self.extra.notices.push(Notice {
            t_ms: t_ms.unwrap_or(LogMs::MIN),
            source: None,
            text,
        });
    }

    /// The session being recorded, the rig it follows and its shift.
    pub(super) fn current(&self) -> Option<(SessionId, &Rig, i64)> {
        self.current
            .as_ref()
            .map(|c| (c.id, c.rig.as_ref(), c.shift_ms))
    }

    /// The writer and the path, for retention.
    pub(super) fn writer(&mut self) -> Option<(&mut Writer, &std::path::Path)> {
        self.writer.as_mut().map(|w| (w, self.path.as_path()))
    }

    /// Close the log so that it can be read anywhere.
    pub(super) fn close(&mut self) -> Result<(), StoreError> {
        self.writer.take().map_or(Ok(()), Writer::close)
    }
}

fn with_busy_timeout(mut writer: Writer) -> Result<Writer, StoreError> {
    writer.wait_for_others(BUSY)?;
    Ok(writer)
}
