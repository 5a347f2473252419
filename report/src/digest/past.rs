//! Sessions that an earlier run digested, taken over as far as they are still the same.
//!
//! A recorder only adds to a log. What was gathered over its closed sessions is therefore
//! kept, and the next report reads only what came since. Nothing is believed for that: the
//! rows of each session are hashed as they lie in the file, with everything else that the
//! gathered state depends on.

use super::session::SessionState;
use crate::cache::{EntryKind, PendingEntry};
use crate::parallel;
use crate::recording::{Recording, SessionFacts};
use seep_common::store::TickTree;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

/// SHA-256 of what the state takes of one session.
type SessionProof = [u8; 32];

/// State over the first sessions of a recording.
#[derive(Serialize, Deserialize)]
struct KeptSessions<S> {
    /// Of each session gathered.
    sessions: Vec<SessionProof>,
    /// Of clock and switches up to the end of the last of them.
    until: SessionProof,
    state: S,
}

/// The closed sessions of a recording, with what proves them.
pub(super) struct PastSessions<'a> {
    recording: &'a Recording,
    key: Vec<Vec<u8>>,
    sessions: Vec<SessionProof>,
}

impl<'a> PastSessions<'a> {
    /// `None` where nothing can be kept, nothing is closed, or the file gives no proof.
    pub(super) fn of(recording: &'a Recording) -> Option<Self> {
        let closed = recording.closed_sessions();
        if closed == 0 || !recording.cache().is_somewhere() {
            return None;
        }
        let tree = recording.tick_tree()?;
        Some(PastSessions {
            recording,
            key: key(recording, &tree),
            sessions: proofs(recording, &tree, closed)?,
        })
    }

    /// How many sessions are closed.
    pub(super) fn closed(&self) -> usize {
        self.sessions.len()
    }

    /// State and number of the sessions that an earlier run gathered.
    pub(super) fn resumed(&self) -> Option<(SessionState, usize)> {
        let parts = self.key_parts();
        let kept: KeptSessions<SessionState> =
            (self.recording.cache()).get(EntryKind::PastSessions, &parts)?;
        let count = kept.sessions.len();
        let same = self.sessions.get(..count)? == kept.sessions
            && until(self.recording, count) == Some(kept.until);
        same.then_some((kept.state, count))
    }

    /// Writes the state over all closed sessions, to be kept if the log proves to have been
    /// the same until the end.
    pub(super) fn write(&self, state: &SessionState) -> Option<PendingEntry> {
        let gathered = KeptSessions {
            sessions: self.sessions.clone(),
            until: until(self.recording, self.closed())?,
            state,
        };
        let parts = self.key_parts();
        (self.recording.cache()).begin(EntryKind::PastSessions, &parts, &gathered)
    }

    /// Keeps what was written where the rows that were read are those that were hashed.
    pub(super) fn keep(&self, entry: PendingEntry) {
        let again = || proofs(self.recording, &self.recording.tick_tree()?, self.closed());
        if self.recording.keeper().is_unchanged() || again().as_ref() == Some(&self.sessions) {
            entry.keep();
        }
    }

    fn key_parts(&self) -> Vec<&[u8]> {
        self.key.iter().map(Vec::as_slice).collect()
    }
}

/// What all sessions share.
fn key(recording: &Recording, tree: &TickTree) -> Vec<Vec<u8>> {
    let first = recording.sessions.first();
    let (from, to) = recording.asked_log_times();
    vec![
        recording.rig_sha256.clone().into_bytes(),
        format!("{:?}", recording.channels).into_bytes(),
        tree.columns().as_bytes().to_vec(),
        format!("{:?}", first.map(|s| (s.id, &s.start.boot_id))).into_bytes(),
        format!("{from:?} {to:?}").into_bytes(),
    ]
}

fn proofs(recording: &Recording, tree: &TickTree, closed: usize) -> Option<Vec<SessionProof>> {
    let sessions: Vec<SessionFacts> = (0..closed).map(|i| recording.facts_of(i)).collect();
    let proofs = parallel::map(&sessions, recording.threads(), |facts| proof(facts, tree));
    proofs.into_iter().collect()
}

fn proof(facts: &SessionFacts, tree: &TickTree) -> Option<SessionProof> {
    let (from, to) = facts.log_times;
    let mut state = Sha256::new();
    state.update(&facts.bytes);
    state.update(tree.hash(from, to)?);
    Some(state.finalize().into())
}

/// Hash of clock and switches up to the end of the last of the first sessions.
fn until(recording: &Recording, count: usize) -> Option<SessionProof> {
    let end_t_ms = recording.sessions.get(count.checked_sub(1)?)?.end_t_ms;
    let clock = recording.clock.stretches_up_to(end_t_ms);
    let after = (recording.events).partition_point(|e| e.t_ms <= end_t_ms);
    let mut state = Sha256::new();
    state.update(format!("{clock:?} {:?}", &recording.events[..after]));
    Some(state.finalize().into())
}

#[cfg(test)]
mod tests;
