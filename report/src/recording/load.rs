//! Sessions loaded ahead of their use. Most of a report's time goes into reading
//! the log, so several connections read at once while the session before is
//! worked on.

use super::{Recording, RecordingError, Session};
use crate::parallel::processors;
use seep_common::store::{Columns, Reader, StoreError};
use seep_common::time::LogMs;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::Scope;

/// Sessions are loaded by at most so many threads: each holds one in memory.
const MOST_LOADERS: usize = 3;

/// What is read of one session.
#[derive(Debug, Clone, Copy)]
pub(super) struct SessionPart {
    pub(super) log_times: (LogMs, LogMs),
    /// Elapsed minus log time, ms.
    pub(super) shift_ms: i64,
}

impl Recording {
    /// The ticks of each session inside the span, one session after the other.
    ///
    /// # Errors
    /// The log's errors.
    pub fn each_frame(&self, take: impl FnMut(&Session, &Columns)) -> Result<(), RecordingError> {
        self.each_frame_from(0, take)
    }

    /// The same without the first sessions.
    ///
    /// # Errors
    /// The log's errors.
    pub(crate) fn each_frame_from(
        &self,
        first: usize,
        mut take: impl FnMut(&Session, &Columns),
    ) -> Result<(), RecordingError> {
        let names = self.rig_channel_names();
        let sessions = self.sessions.get(first..).unwrap_or_default();
        let parts: Vec<SessionPart> = sessions.iter().map(|s| self.part(s)).collect();
        let readers = self.readers(parts.len())?;
        if readers.len() < 2 {
            let mut frame = Columns::default();
            for (session, part) in sessions.iter().zip(&parts) {
                frame = part.load(&self.reader, &names, frame)?;
                take(session, &frame);
            }
            return Ok(());
        }
        std::thread::scope(|scope| {
            let mut loaded = Loaded::start(scope, readers, &names, &parts);
            for session in sessions {
                // `None` where no thread is left, which cannot be while one is waited for.
                let Some(frame) = loaded.next() else { break };
                let frame = frame?;
                take(session, &frame);
                loaded.give_back(frame);
            }
            Ok(())
        })
    }

    /// One connection for each thread that loads.
    fn readers(&self, parts: usize) -> Result<Vec<Reader>, RecordingError> {
        let loaders = processors().min(MOST_LOADERS).min(parts);
        if self.one_thread || loaders < 2 || self.reader.is_copy() {
            return Ok(Vec::new());
        }
        let opened = (0..loaders).map(|_| Reader::open(self.path()));
        Ok(opened.collect::<Result<_, _>>()?)
    }

    pub(super) fn part(&self, session: &Session) -> SessionPart {
        SessionPart {
            log_times: self.log_times(session),
            shift_ms: session.start.t_ms - self.elapsed.to_log(session.start.t_ms).0,
        }
    }

    pub(super) fn load(
        &self,
        session: &Session,
        names: &[String],
    ) -> Result<Columns, RecordingError> {
        let room = Columns::default();
        Ok(self.part(session).load(&self.reader, names, room)?)
    }
}

impl SessionPart {
    fn load(self, reader: &Reader, names: &[String], room: Columns) -> Result<Columns, StoreError> {
        let (from_t_ms, to_t_ms) = self.log_times;
        let mut columns = reader.columns_into(room, names, from_t_ms, to_t_ms)?;
        for t_ms in &mut columns.t_ms {
            *t_ms += self.shift_ms;
        }
        Ok(columns)
    }
}

/// A session's ticks, or the panic that came of loading them.
type Arrived = std::thread::Result<Result<Columns, StoreError>>;

/// Sessions in their order, loaded by several threads. A thread takes the next
/// one that nobody has taken, so a long session keeps no other thread waiting.
struct Loaded {
    /// Indices that may be loaded: so many ahead of the one worked on.
    allowed: Sender<usize>,
    arrived: Receiver<(usize, Arrived)>,
    /// Arrived before their turn.
    early: BTreeMap<usize, Arrived>,
    /// Worked on: their room is for others.
    spent: Arc<Mutex<Vec<Columns>>>,
    turn: usize,
    ahead: usize,
}

impl Loaded {
    /// A thread for each reader.
    fn start<'scope, 'env: 'scope>(
        scope: &'scope Scope<'scope, 'env>,
        readers: Vec<Reader>,
        names: &'env [String],
        parts: &'env [SessionPart],
    ) -> Self {
        let (allowed, queue) = channel();
        let (hand_over, arrived) = channel();
        let queue = Arc::new(Mutex::new(queue));
        let spent: Arc<Mutex<Vec<Columns>>> = Arc::default();
        let ahead = readers.len();
        // Fails where a thread has gone, which `next` finds out.
        for i in 0..ahead {
            let _ = allowed.send(i);
        }
        for reader in readers {
            let (queue, hand_over) = (Arc::clone(&queue), hand_over.clone());
            let spent = Arc::clone(&spent);
            scope.spawn(move || {
                while let Some((i, part)) = waited_for(&queue, parts) {
                    let room = held(&spent).pop().unwrap_or_default();
                    let load = AssertUnwindSafe(|| part.load(&reader, names, room));
                    // Nobody waits any more: something failed.
                    if hand_over.send((i, catch_unwind(load))).is_err() {
                        return;
                    }
                }
            });
        }
        Loaded {
            allowed,
            arrived,
            early: BTreeMap::new(),
            spent,
            turn: 0,
            ahead,
        }
    }

    /// Takes back the room of ticks that were worked on.
    fn give_back(&self, frame: Columns) {
        held(&self.spent).push(frame);
    }

    /// The next session's ticks, and leave to load one more. A panic of its thread
    /// goes on here.
    fn next(&mut self) -> Option<Result<Columns, StoreError>> {
        let frame = loop {
            if let Some(frame) = self.early.remove(&self.turn) {
                break frame;
            }
            let (i, frame) = self.arrived.recv().ok()?;
            self.early.insert(i, frame);
        };
        let _ = self.allowed.send(self.turn + self.ahead);
        self.turn += 1;
        Some(frame.unwrap_or_else(|panic| resume_unwind(panic)))
    }
}

fn held<T>(shared: &Mutex<T>) -> MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The next part that may be loaded; `None` when there is no more.
fn waited_for(
    queue: &Mutex<Receiver<usize>>,
    parts: &[SessionPart],
) -> Option<(usize, SessionPart)> {
    let queue = held(queue);
    let i = queue.recv().ok()?;
    parts.get(i).map(|part| (i, *part))
}
