//! Sessions loaded ahead of their use. Most of a report's time goes into reading
//! the log, so several connections read at once while the session before is
//! worked on.

use super::{Recording, RecordingError};
use crate::frame::{Frame, FrameError};
use crate::parallel::processors;
use seep_common::store::{Reader, Session};
use std::sync::mpsc::{Receiver, sync_channel};
use std::thread::Scope;

/// Sessions are loaded by at most so many threads: each holds one in memory.
const MOST_LOADERS: usize = 3;

/// What is read of one session.
#[derive(Debug, Clone, Copy)]
struct Part {
    log_times_ms: (i64, i64),
    shift_ms: i64,
}

impl Recording {
    /// The ticks of each session inside the span, one session after the other.
    ///
    /// # Errors
    /// The log's errors.
    pub fn each_frame(&self, mut take: impl FnMut(&Session, Frame)) -> Result<(), RecordingError> {
        let names = self.rig_channel_names();
        let parts: Vec<Part> = self.sessions.iter().map(|s| self.part(s)).collect();
        let readers = self.readers(parts.len())?;
        if readers.len() < 2 {
            for session in &self.sessions {
                take(session, self.frame(session)?);
            }
            return Ok(());
        }
        std::thread::scope(|scope| {
            let lanes = lanes(scope, readers, &names, &parts);
            for (session, lane) in self.sessions.iter().zip(lanes.iter().cycle()) {
                // A lane ends early by a panic alone, which goes on from here.
                let Ok(frame) = lane.recv() else { break };
                take(session, frame?);
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

    fn part(&self, session: &Session) -> Part {
        Part {
            log_times_ms: self.log_times(session),
            shift_ms: session.start.t_ms - self.elapsed.to_log(session.start.t_ms),
        }
    }

    pub(super) fn load(
        &self,
        session: &Session,
        names: &[String],
    ) -> Result<Frame, RecordingError> {
        Ok(self.part(session).load(&self.reader, names)?)
    }
}

impl Part {
    fn load(self, reader: &Reader, names: &[String]) -> Result<Frame, FrameError> {
        Frame::load(reader, names, self.log_times_ms, self.shift_ms)
    }
}

/// A thread for each reader; with two, one loads every second session.
fn lanes<'scope, 'env>(
    scope: &'scope Scope<'scope, 'env>,
    readers: Vec<Reader>,
    names: &'env [String],
    parts: &'env [Part],
) -> Vec<Receiver<Result<Frame, FrameError>>> {
    let step = readers.len();
    let lane = |(first, reader): (usize, Reader)| {
        let (hand_over, lane) = sync_channel(0);
        scope.spawn(move || {
            for part in parts.iter().skip(first).step_by(step) {
                // Nobody waits any more: something failed.
                if hand_over.send(part.load(&reader, names)).is_err() {
                    return;
                }
            }
        });
        lane
    };
    readers.into_iter().enumerate().map(lane).collect()
}
