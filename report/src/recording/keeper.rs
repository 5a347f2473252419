//! Results that depend on the log and the span alone, kept from run to run.

use super::Recording;
use crate::cache::{Cache, EntryKind};
use seep_common::store::Fingerprint;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::path::Path;

/// Finds and keeps results of one recording.
///
/// The key is the fingerprint of the log from before it was opened, which stands for every
/// byte in it, and the span. A result is kept only where the log has the same fingerprint
/// after it was computed.
pub(crate) struct Keeper<'a> {
    path: &'a Path,
    cache: &'a Cache,
    opened: Option<&'a Fingerprint>,
    /// First and last log time of the span, ms, and whether pauses have their true length.
    span: [u8; 17],
}

impl<'a> Keeper<'a> {
    pub(super) fn new(recording: &'a Recording) -> Self {
        let mut span = [0; 17];
        span[..8].copy_from_slice(&recording.span.from_t_ms.to_le_bytes());
        span[8..16].copy_from_slice(&recording.span.to_t_ms.to_le_bytes());
        span[16] = u8::from(recording.has_true_pauses);
        Keeper {
            path: recording.path(),
            cache: &recording.cache,
            opened: recording.opened.as_ref(),
            span,
        }
    }

    /// What an earlier run kept.
    pub(crate) fn kept<T: DeserializeOwned>(&self, kind: EntryKind) -> Option<T> {
        self.cache.get(kind, &[self.opened?.as_bytes(), &self.span])
    }

    /// Keeps what was computed.
    pub(crate) fn keep<T: Serialize>(&self, kind: EntryKind, value: &T) {
        if let Some(opened) = self.opened
            && self.cache.is_somewhere()
            && self.is_unchanged()
        {
            let key = [opened.as_bytes(), &self.span];
            self.cache.put(kind, &key, value);
        }
    }

    /// Whether nothing wrote to the log since it was opened, for certain.
    pub(crate) fn is_unchanged(&self) -> bool {
        let settled = self.opened.filter(|opened| opened.is_settled());
        settled.is_some_and(|opened| Fingerprint::of_log(self.path).as_ref() == Some(opened))
    }
}
