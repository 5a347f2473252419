//! What tells that sessions of a recording are those of an earlier run.

use super::Recording;
use crate::parallel::processors;
use seep_common::store::TickTree;
use seep_common::time::LogMs;

/// What a digest takes of a session besides its rows, clock and switches.
pub(crate) struct SessionFacts {
    /// Its number, bounds and how it was laid on the scale of the recording.
    pub(crate) bytes: Vec<u8>,
    /// Its rows inside the span.
    pub(crate) log_times: (LogMs, LogMs),
}

impl Recording {
    /// How many sessions a recorder adds nothing to any more.
    pub(crate) fn closed_sessions(&self) -> usize {
        match self.sessions.split_last() {
            Some((last, before)) => before.len() + usize::from(last.end_reason.is_some()),
            None => 0,
        }
    }

    /// The pages of the log's rows; `None` where they are not as they are known to be.
    pub(crate) fn tick_tree(&self) -> Option<TickTree> {
        TickTree::of(&self.reader)
    }

    /// First log time that is read, and the last where the span ends before the log does.
    pub(crate) fn asked_log_times(&self) -> (Option<LogMs>, Option<i64>) {
        let first = self.sessions.first().map(|s| self.log_times(s).0);
        let last = self.sessions.iter().map(|s| s.end_t_ms).max();
        let is_cut = last.is_none_or(|last| self.span.to_t_ms <= last);
        (first, is_cut.then_some(self.span.to_t_ms))
    }

    /// Threads that may work on this recording.
    pub(crate) fn threads(&self) -> usize {
        if self.one_thread { 1 } else { processors() }
    }

    /// Of one of the recording's sessions.
    pub(crate) fn facts_of(&self, session: usize) -> SessionFacts {
        let session = &self.sessions[session];
        let part = self.part(session);
        let (from, to) = part.log_times;
        let numbers = [
            session.id.0,
            session.start.t_ms,
            session.end_t_ms,
            from.0,
            to.0,
            part.shift_ms,
            i64::from(self.pause_is_known(session)),
        ];
        SessionFacts {
            bytes: numbers.into_iter().flat_map(i64::to_le_bytes).collect(),
            log_times: part.log_times,
        }
    }
}
