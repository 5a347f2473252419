//! A log opened for analysis: everything but the ticks, which come session by session.

mod against;
mod elapsed;
mod keeper;
mod last;
mod load;
mod log_hash;
mod past;
mod span;

pub use span::{Span, SpanError, SpanRequest};

use crate::cache::Cache;
use elapsed::Elapsed;
use keeper::Keeper;
use log_hash::LogHash;
pub(crate) use past::SessionFacts;
use seep_common::rig::{Rig, RigError};
use seep_common::store::{
    self, ClockMap, Columns, Fingerprint, Note, Reader, StoreError, StoredChannel,
};
use seep_common::time::LogMs;
use std::path::Path;
use std::sync::{Arc, OnceLock};

/// A session on the scale of its [`Recording`].
pub type Session = store::Session<i64>;
/// A clock row on that scale.
pub type ClockRow = store::ClockRow<i64>;
/// A valve or compressor change on that scale.
pub type Event = store::Event<i64>;

/// A log and the span of it that was asked for.
///
/// It lays the sessions as far apart as they really were; its times are numbers of
/// that scale, ms, and log times no more.
#[derive(Debug)]
pub struct Recording {
    reader: Reader,
    elapsed: Elapsed,
    one_thread: bool,
    is_brief: bool,
    cache: Cache,
    /// The log's state before it was opened.
    opened: Option<Fingerprint>,
    has_true_pauses: bool,
    /// One for every span of a log.
    sha256: Arc<OnceLock<String>>,
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
    /// Valve and compressor changes in the span; before them, the last word of each that
    /// was off when the span began, so that its next opening is known as one.
    pub events: Vec<Event>,
    /// Gaps that touch the span.
    pub gaps: Vec<store::Gap<i64>>,
    /// What the recorder noted over the span: bus states, reloads, storage trouble.
    pub notices: Vec<store::Notice<i64>>,
    /// Counts over the span, summed by name and source.
    pub counters: Vec<store::Counter<i64>>,
}

/// Why a recording could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum RecordingError {
    /// The log cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
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
    /// Open a log for a span, for analyses: times are log times with the
    /// sessions as far apart as they really were.
    ///
    /// # Errors
    /// [`RecordingError`] says what is wrong with the log or the span.
    pub fn open(path: &Path, request: &SpanRequest) -> Result<Self, RecordingError> {
        Self::open_on(path, request, Elapsed::new)
    }

    /// Open a log for a span with its log times as they are stored.
    ///
    /// # Errors
    /// [`RecordingError`] says what is wrong with the log or the span.
    pub fn open_as_stored(path: &Path, request: &SpanRequest) -> Result<Self, RecordingError> {
        let stored = Self::open_on(path, request, |_, _| Elapsed::default())?;
        Ok(Recording {
            has_true_pauses: false,
            ..stored
        })
    }

    fn open_on(
        path: &Path,
        request: &SpanRequest,
        scale: fn(&[store::Session], &ClockMap) -> Elapsed,
    ) -> Result<Self, RecordingError> {
        let opened = Fingerprint::of_log(path);
        let reader = Reader::open(path)?;
        let stored = reader.sessions()?;
        if stored.is_empty() {
            return Err(RecordingError::Empty);
        }
        let clock_rows = reader.clock_rows()?;
        let elapsed = scale(&stored, &ClockMap::new(&clock_rows));
        let clock_rows: Vec<_> = clock_rows.iter().map(|r| elapsed.clock_row(r)).collect();
        let all: Vec<_> = stored.into_iter().map(|s| elapsed.session(s)).collect();
        let noted = reader.notes()?.into_iter().filter(|n| n.reading.is_none());
        let last_note = noted.map(|n| n.at_unix_ms).max();
        let span = span::resolve(
            request,
            &all,
            &ClockMap::new(&clock_rows),
            last_note.map(|t| t.0),
        )?;
        Self::of_span((reader, opened), elapsed, all, clock_rows, span)
    }

    /// The span that `words` name beside this one, of the same log.
    ///
    /// # Errors
    /// As [`Recording::open`].
    pub fn other_span(&self, words: &str, zone: Option<&str>) -> Result<Self, RecordingError> {
        let opened = Fingerprint::of_log(self.path());
        let reader = Reader::open(self.path())?;
        let stored = reader.sessions()?.into_iter();
        let all: Vec<_> = stored.map(|s| self.elapsed.session(s)).collect();
        let span = against::other(words, &self.span, zone, &all, &self.clock)?;
        let (elapsed, clock_rows) = (self.elapsed.clone(), self.clock_rows.clone());
        let other = Self::of_span((reader, opened), elapsed, all, clock_rows, span)?;
        Ok(Recording {
            sha256: Arc::clone(&self.sha256),
            is_brief: self.is_brief,
            has_true_pauses: self.has_true_pauses,
            cache: self.cache.clone(),
            ..other
        })
    }

    fn of_span(
        (reader, opened): (Reader, Option<Fingerprint>),
        elapsed: Elapsed,
        all: Vec<Session>,
        clock_rows: Vec<ClockRow>,
        span: Span,
    ) -> Result<Self, RecordingError> {
        let sessions: Vec<Session> = all
            .into_iter()
            .filter(|s| s.start.t_ms < span.to_t_ms && s.end_t_ms >= span.from_t_ms)
            .collect();
        let last = sessions.last().ok_or(SpanError::NothingRecorded)?;
        let rig_sha256 = last.rig_sha256.clone();
        let text = reader
            .rigs()?
            .into_iter()
            .find(|(sha, _)| *sha == rig_sha256)
            .map(|(_, text)| text)
            .unwrap_or_default();
        let (from, to) = (elapsed.to_log(span.from_t_ms), elapsed.to_log(span.to_t_ms));
        let first_ms = sessions.iter().map(|s| s.start.t_ms).min();
        let began = elapsed.to_log(first_ms.unwrap_or(span.from_t_ms));
        let mut events = closed_before(reader.events(began.min(from), from)?);
        events.extend(reader.events(from, to)?);
        let on = |t| elapsed.of_log(t);
        let gaps = reader.gaps(from, to)?.into_iter();
        let counters = reader.counters(from, to)?.into_iter();
        let notices = reader.notices(from, to)?.into_iter();
        Ok(Recording {
            rig: Rig::parse(&text)?,
            rig_sha256,
            clock: ClockMap::new(&clock_rows),
            clock_rows,
            span,
            sessions,
            channels: reader.channels()?,
            events: events.into_iter().map(|e| e.laid(on)).collect(),
            gaps: gaps.map(|g| g.laid(on)).collect(),
            counters: counters.map(|c| c.laid(on)).collect(),
            notices: notices.map(|n| n.laid(on)).collect(),
            reader,
            elapsed,
            one_thread: false,
            is_brief: false,
            cache: Cache::none(),
            opened,
            has_true_pauses: true,
            sha256: Arc::default(),
        })
    }

    /// The same, read by the thread that asks alone, as where others judge other
    /// logs beside it.
    #[must_use]
    pub fn on_one_thread(self) -> Self {
        Recording {
            one_thread: true,
            ..self
        }
    }

    /// The same, with results of earlier runs.
    #[must_use]
    pub fn with_cache(self, cache: Cache) -> Self {
        Recording { cache, ..self }
    }

    /// The same for an answer on one screen, which shows no hash of the log and no count
    /// of its rows.
    #[must_use]
    pub fn in_brief(self, is_brief: bool) -> Self {
        Recording { is_brief, ..self }
    }

    /// Where results are kept.
    #[must_use]
    pub fn cache(&self) -> &Cache {
        &self.cache
    }

    /// Finds and keeps what depends on this log and span alone.
    pub(crate) fn keeper(&self) -> Keeper<'_> {
        Keeper::new(self)
    }

    /// Whether hash and counts of rows are left out.
    #[must_use]
    pub fn is_brief(&self) -> bool {
        self.is_brief
    }

    /// SHA-256 of the log file, hex; empty where it cannot be read, or is not shown.
    #[must_use]
    pub fn log_sha256(&self) -> &str {
        if self.is_brief {
            return "";
        }
        let (path, cache) = (self.path(), &self.cache);
        let hash = || LogHash::of_log(path, cache).taken(path, cache);
        self.sha256.get_or_init(|| hash().unwrap_or_default())
    }

    /// Do some work while another thread takes the log's hash, which is asked
    /// for later.
    pub fn while_hashing<T>(&self, work: impl FnOnce() -> T) -> T {
        if self.one_thread || self.is_brief || self.sha256.get().is_some() {
            return work();
        }
        let (path, cache) = (self.path(), &self.cache);
        let hash = match LogHash::of_log(path, cache) {
            LogHash::Kept(hash) => {
                // Nobody else can have set it meanwhile, nor below.
                let _ = self.sha256.set(hash);
                return work();
            }
            to_take => to_take,
        };
        std::thread::scope(|scope| {
            let hash = scope.spawn(|| hash.taken(path, cache));
            let done = work();
            if let Ok(Some(hash)) = hash.join() {
                let _ = self.sha256.set(hash);
            }
            done
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
    pub fn frame(&self, session: &Session) -> Result<Columns, RecordingError> {
        self.load(session, &self.rig_channel_names())
    }

    /// Ticks of one session inside the span with every channel of the log.
    ///
    /// # Errors
    /// The log's errors.
    pub fn frame_of_all(&self, session: &Session) -> Result<Columns, RecordingError> {
        self.load(session, &self.channel_names())
    }

    /// Number of ticks of one session inside the span; 0 where the file cannot be read.
    #[must_use]
    pub fn tick_count(&self, session: &Session) -> u64 {
        let (from, to) = self.log_times(session);
        self.reader.ticks_between(from, to).unwrap_or(0)
    }

    /// Whether it is known how long after the session before it this one began.
    #[must_use]
    pub fn pause_is_known(&self, session: &Session) -> bool {
        self.elapsed.pause_is_known(session.id)
    }

    /// Notes of a person from half a day before the span to half a day after it: those of
    /// the evening and the morning belong to a night that was cut off by the ignition.
    /// All where the log has no clock.
    ///
    /// # Errors
    /// The log's errors.
    pub fn notes(&self) -> Result<Vec<Note>, RecordingError> {
        const MARGIN_MS: i64 = 12 * 3_600_000;
        let mut notes = self.reader.notes()?;
        let from = self.clock.wall_ms(self.span.from_t_ms);
        let to = self.clock.wall_ms(self.span.to_t_ms - 1);
        if let (Some(from), Some(to)) = (from, to) {
            notes.retain(|n| (from - MARGIN_MS..=to + MARGIN_MS).contains(&n.at_unix_ms.0));
        }
        Ok(notes)
    }

    /// Log times of the part of a session inside the span, half-open.
    fn log_times(&self, session: &Session) -> (LogMs, LogMs) {
        let from = session.start.t_ms.max(self.span.from_t_ms);
        let to = session.end_t_ms.saturating_add(1).min(self.span.to_t_ms);
        (self.elapsed.to_log(from), self.elapsed.to_log(to))
    }

    fn rig_channel_names(&self) -> Vec<String> {
        self.rig.channels.iter().map(|c| c.name.clone()).collect()
    }

    /// The rig file that the log was last recorded with inside the span.
    ///
    /// # Errors
    /// The log's errors.
    pub fn rig_text(&self) -> Result<String, RecordingError> {
        let all = self.reader.rigs()?.into_iter();
        let own = all.filter(|(sha, _)| *sha == self.rig_sha256);
        Ok(own.map(|(_, text)| text).next().unwrap_or_default())
    }

    /// Valve and compressor changes within the span.
    #[must_use]
    pub fn events_in_span(&self) -> &[Event] {
        let first = self
            .events
            .partition_point(|e| e.t_ms < self.span.from_t_ms);
        &self.events[first..]
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

/// The last word of each valve and compressor that was off, in time order.
fn closed_before(earlier: Vec<store::Event>) -> Vec<store::Event> {
    let mut last: Vec<store::Event> = Vec::new();
    for event in earlier {
        last.retain(|e| (e.kind, &e.place) != (event.kind, &event.place));
        last.push(event);
    }
    last.retain(|e| !e.on);
    last
}

#[cfg(test)]
mod tests;
