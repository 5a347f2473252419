//! A log opened for analysis: everything but the ticks, which come session by session.

mod against;
mod last;
mod span;

pub use span::{Span, SpanError, SpanRequest};

use crate::frame::{Frame, FrameError};
use seep_common::rig::{Rig, RigError};
use seep_common::store::{
    ClockMap, ClockRow, Counter, Event, Gap, Notice, Reader, Session, StoreError, StoredChannel,
};
use std::path::Path;

/// A log and the span of it that was asked for.
#[derive(Debug)]
pub struct Recording {
    reader: Reader,
    /// The rig last recorded with inside the span.
    pub rig: Rig,
    /// SHA-256 of that rig, hex.
    pub rig_sha256: String,
    /// Log time to wall time.
    pub clock: ClockMap,
    /// Where log time was tied to wall time, in the order noted.
    pub clock_rows: Vec<ClockRow>,
    /// What was asked for.
    pub span: Span,
    /// Sessions that touch the span, in order recorded.
    pub sessions: Vec<Session>,
    /// Channels of the log.
    pub channels: Vec<StoredChannel>,
    /// Valve and compressor changes in the span.
    pub events: Vec<Event>,
    /// Gaps that touch the span.
    pub gaps: Vec<Gap>,
    /// What the recorder noted over the span: bus states, reloads, storage trouble.
    pub notices: Vec<Notice>,
    /// Counts over the span, summed by name and source.
    pub counters: Vec<Counter>,
}

/// Why a recording could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum RecordingError {
    /// The log cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The columns cannot be read.
    #[error(transparent)]
    Frame(#[from] FrameError),
    /// The span makes no sense for this log.
    #[error(transparent)]
    Span(#[from] SpanError),
    /// The log holds no session.
    #[error("the log holds no recording yet; let seepd run, or replay a log into it")]
    Empty,
    /// The rig stored in the log cannot be read.
    #[error("the rig stored in the log cannot be read: {0}")]
    Rig(#[from] RigError),
}

impl Recording {
    /// Open a log for a span.
    ///
    /// # Errors
    /// [`RecordingError`] says what is wrong with the log or the span.
    pub fn open(path: &Path, request: &SpanRequest) -> Result<Self, RecordingError> {
        let reader = Reader::open(path)?;
        let all = reader.sessions()?;
        if all.is_empty() {
            return Err(RecordingError::Empty);
        }
        let clock_rows = reader.clock_rows()?;
        let clock = ClockMap::new(&clock_rows);
        let span = span::resolve(request, &all, &clock)?;
        Self::of_span(reader, all, clock_rows, span)
    }

    /// The span that `words` name beside this one, of the same log.
    ///
    /// # Errors
    /// As [`Recording::open`].
    pub fn other_span(&self, words: &str, zone: Option<&str>) -> Result<Self, RecordingError> {
        let reader = Reader::open(self.path())?;
        let all = reader.sessions()?;
        let span = against::other(words, &self.span, zone, &all, &self.clock)?;
        Self::of_span(reader, all, self.clock_rows.clone(), span)
    }

    fn of_span(
        reader: Reader,
        all: Vec<Session>,
        clock_rows: Vec<ClockRow>,
        span: Span,
    ) -> Result<Self, RecordingError> {
        let clock = ClockMap::new(&clock_rows);
        let (from, to) = (span.from_t_ms, span.to_t_ms);
        let sessions: Vec<Session> = all
            .into_iter()
            .filter(|s| s.start.t_ms < to && s.end_t_ms >= from)
            .collect();
        let last = sessions.last().ok_or(SpanError::NothingRecorded)?;
        let rig_sha256 = last.rig_sha256.clone();
        let text = reader
            .rigs()?
            .into_iter()
            .find(|(sha, _)| *sha == rig_sha256)
            .map(|(_, text)| text)
            .unwrap_or_default();
        Ok(Recording {
            rig: Rig::parse(&text)?,
            rig_sha256,
            clock,
            clock_rows,
            span,
            sessions,
            channels: reader.channels()?,
            events: reader.events(from, to)?,
            gaps: reader.gaps(from, to)?,
            counters: reader.counters(from, to)?,
            notices: reader.notices(from, to)?,
            reader,
        })
    }

    /// The log's path.
    #[must_use]
    pub fn path(&self) -> &Path {
        self.reader.path()
    }

    /// Ticks of one session inside the span.
    ///
    /// # Errors
    /// The log's errors.
    pub fn frame(&self, session: &Session) -> Result<Frame, RecordingError> {
        let names: Vec<String> = self.rig.channels.iter().map(|c| c.name.clone()).collect();
        let from = session.start.t_ms.max(self.span.from_t_ms);
        let to = session.end_t_ms.saturating_add(1).min(self.span.to_t_ms);
        Ok(Frame::load(&self.reader, &names, from, to)?)
    }

    /// Ticks of one session inside the span with every channel of the log.
    ///
    /// # Errors
    /// The log's errors.
    pub fn frame_of_all(&self, session: &Session) -> Result<Frame, RecordingError> {
        let from = session.start.t_ms.max(self.span.from_t_ms);
        let to = session.end_t_ms.saturating_add(1).min(self.span.to_t_ms);
        Ok(Frame::load(&self.reader, &self.channel_names(), from, to)?)
    }

    /// Names of the log's channels, each once, in the order recorded.
    #[must_use]
    pub fn channel_names(&self) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for channel in &self.channels {
            if !names.contains(&channel.name) {
                names.push(channel.name.clone());
            }
        }
        names
    }
}
