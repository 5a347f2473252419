//! Another program moved, deleted or changed the log while it was recorded: what
//! can be saved is saved, recording goes on in a file under the log's name, and
//! what was lost is counted.

use super::log_file::LogFile;
use super::unsettled::{StoredHere, Unsettled};
use crate::session::StorageCommand;
use seep_common::store::cause::LOG_CHANGED;
use seep_common::store::{Counter, EndReason, FileChange, Gap, Left, Notice, StoreError, Writer};
use seep_common::time::LogMs;

impl LogFile {
    /// Compare the log's name with the file that is written; true when another
    /// program changed it.
    pub(super) fn look_after_file(&mut self) -> Result<bool, StoreError> {
        let Some(writer) = &mut self.writer else {
            return Ok(false);
        };
        match writer.file_change()? {
            Some(change) => self.move_on(change).map(|()| true),
            None => Ok(false),
        }
    }

    /// Make sure that SQLite still holds its lock on the log; without it another
    /// program may delete the write-ahead log.
    pub(super) fn look_after_lock(&mut self) -> Result<(), StoreError> {
        match self.writer.as_ref().and_then(Writer::holds_lock) {
            Some(false) => self.move_on(FileChange::LockLost),
            _ => Ok(()),
        }
    }

    fn move_on(&mut self, change: FileChange) -> Result<(), StoreError> {
        let Some(mut writer) = self.writer.take() else {
            return Ok(());
        };
        tracing::error!("{}: {change}", self.path.display());
        self.note_end(&mut writer, &change);
        let left = writer
            .leave(&change)
            .unwrap_or_else(|e| Left::Lost(e.to_string()));
        let stored = std::mem::take(&mut self.stored_here);
        if let (Left::Complete(_), Some((_, last)), Some(current)) =
            (&left, stored.span_ms, &mut self.current)
        {
            current.start_t_ms = current.start_t_ms.max(last.plus(1));
        }
        // Another change before the last one was settled: nothing was stored
        // between the two.
        self.unsettled.get_or_insert(Unsettled {
            change,
            left,
            stored,
        });
        if self.current.is_some() {
            self.go_on_afresh()?;
        }
        Ok(())
    }

    /// The session goes on elsewhere: end it where it was, if that can be written.
    fn note_end(&mut self, writer: &mut Writer, change: &FileChange) {
        let (Some(current), Some(last)) = (&self.current, writer.last_t_ms()) else {
            return;
        };
        if !matches!(change, FileChange::Overwritten | FileChange::WalCutShort) {
            // Best effort: a session without an end counts as cut short.
            let _ = writer.end_session(current.id, last, EndReason::LogMoved);
        }
    }

    /// Find out what became of the rows, now that a file is open under the log's
    /// name, and note it for the log, the status and the journal.
    pub(super) fn settle(&mut self, writer: &Writer) -> Result<(), StoreError> {
        let Some(unsettled) = self.unsettled.take() else {
            return Ok(());
        };
        let found = match (&unsettled.left, unsettled.stored.span_ms) {
            (Left::Complete(_), _) | (_, None) => unsettled.stored.rows,
            (_, Some((from, to))) => writer.rows_between(from, to)?,
        };
        let lost = unsettled.stored.rows.saturating_sub(found);
        let text = unsettled.text(lost);
        tracing::error!("{}: {text}", self.path.display());
        if let (true, Some((from, to))) = (lost > 0, unsettled.stored.span_ms) {
            self.note_loss(writer, lost, from, to);
        }
        self.extra.notices.push(Notice {
            t_ms: LogMs::MIN,
            source: None,
            text: text.clone(),
        });
        self.changed = Some(text);
        Ok(())
    }

    fn note_loss(&mut self, writer: &Writer, lost: u64, from_t_ms: LogMs, to_t_ms: LogMs) {
        self.destroyed += lost;
        self.extra.counters.push(Counter {
            t_ms: to_t_ms.plus(1),
            name: format!("rows lost, {LOG_CHANGED}"),
            source: "recorder".into(),
            count: i64::try_from(lost).unwrap_or(i64::MAX),
        });
        // What is left ends before the session that goes on.
        let kept = writer.rows_between(from_t_ms, to_t_ms).unwrap_or(0);
        let start = self.current.as_ref().map_or(from_t_ms, |c| c.start_t_ms);
        self.extra.gaps.push(Gap {
            from_t_ms: if kept > 0 {
                start.min(to_t_ms)
            } else {
                from_t_ms
            },
            to_t_ms: to_t_ms.plus(1),
            cause: LOG_CHANGED.into(),
            what: None,
        });
    }

    /// Another program stored rows later than ours: a new session begins after
    /// them, since log time never goes back.
    pub(super) fn move_past_foreign_rows(
        &mut self,
        command: &StorageCommand,
    ) -> Result<(), StoreError> {
        let StorageCommand::Store(batch) = command else {
            return Ok(());
        };
        let (Some(writer), Some(current), Some(first)) =
            (&mut self.writer, &mut self.current, batch.ticks.first())
        else {
            return Ok(());
        };
        writer.find_end()?;
        let Some(last) = writer.last_t_ms() else {
            return Ok(());
        };
        let step_ms = last.plus(1).since(first.t_ms.on_log(current.shift_ms));
        if step_ms <= 0 {
            return Ok(());
        }
        current.shift_ms += step_ms;
        current.start_t_ms = last.plus(1);
        current.boot_from_t_ms = current.start_t_ms;
        let boot_ms = current.start_t_ms.on_boot(current.shift_ms);
        let start = self.origin.session(current.start_t_ms, boot_ms);
        current.id = writer.begin_session(&start, &current.rig)?;
        for clock in &mut current.clock {
            clock.from_t_ms = clock.from_t_ms.plus(step_ms).max(current.start_t_ms);
            clock.noted_t_ms = clock.noted_t_ms.plus(step_ms).max(current.start_t_ms);
            clock.offset_ms -= step_ms;
        }
        self.extra.clock.extend(current.clock.iter().copied());
        let text = format!(
            "another program stored rows in the log up to {last} ms; log time goes on after them"
        );
        tracing::error!("{}: {text}", self.path.display());
        self.extra.notices.push(Notice {
            t_ms: LogMs::MIN,
            source: None,
            text: text.clone(),
        });
        self.changed = Some(text);
        Ok(())
    }

    /// A session was deleted to keep space: its rows are not expected any more.
    pub(super) fn expect_none_before(&mut self, t_ms: LogMs) {
        let Some((from, to)) = self.stored_here.span_ms else {
            return;
        };
        let from = from.max(t_ms);
        let rows = self.writer.as_ref().map(|w| w.rows_between(from, to));
        if let Some(Ok(rows)) = rows {
            self.stored_here = StoredHere {
                rows,
                span_ms: Some((from, to)),
            };
        }
    }
}
