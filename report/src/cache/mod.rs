//! Results kept in the user's cache folder, so that nothing is computed twice.
//!
//! An entry is found by a key that holds everything its value depends on. One that is
//! missing, damaged, foreign or of another build counts as not there, and the value is
//! computed again; no fault of a cache reaches a report.

mod entry;
mod folder;
mod program;

use entry::Key;
pub(crate) use entry::PendingEntry;
pub(crate) use folder::folder_of_this_user;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::path::PathBuf;

/// Kinds of value that are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum EntryKind {
    /// SHA-256 of a log.
    LogHash,
    /// What the analyses need of a recording.
    Digest,
    /// What is gathered over the closed sessions of a log.
    PastSessions,
    /// The fit of the model of a car at rest.
    RestModelFit,
}

impl EntryKind {
    fn name(self) -> &'static str {
        match self {
            EntryKind::LogHash => "log hash",
            EntryKind::Digest => "digest",
            EntryKind::PastSessions => "past sessions",
            EntryKind::RestModelFit => "rest model fit",
        }
    }
}

/// Where results are kept; by default nowhere.
#[derive(Debug, Clone, Default)]
pub struct Cache {
    folder: Option<PathBuf>,
}

impl Cache {
    /// Keeps nothing and finds nothing.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// The cache of the user who runs this program: `seep` in `XDG_CACHE_HOME`, or in
    /// `~/.cache`. Nowhere if neither is known.
    ///
    /// **Source**: XDG Base Directory Specification 0.8: `XDG_CACHE_HOME` must be absolute.
    #[must_use]
    pub fn of_this_user() -> Self {
        Cache {
            folder: folder_of_this_user(),
        }
    }

    /// In a folder of one's own.
    #[cfg(test)]
    pub(crate) fn in_folder(folder: &std::path::Path) -> Self {
        Cache {
            folder: Some(folder.to_path_buf()),
        }
    }

    /// Whether anything can be kept at all.
    pub(crate) fn is_somewhere(&self) -> bool {
        self.folder.is_some()
    }

    /// The value kept under a key by this very program.
    pub(crate) fn get<T: DeserializeOwned>(&self, kind: EntryKind, parts: &[&[u8]]) -> Option<T> {
        let key = Key::new(kind.name(), &program::identity()?, parts);
        let bytes = entry::read(&folder::ready(self.folder.as_deref()?)?, &key)?;
        postcard::from_bytes(&bytes).ok()
    }

    /// Keeps a value; without effect where it cannot.
    pub(crate) fn put<T: Serialize>(&self, kind: EntryKind, parts: &[&[u8]], value: &T) {
        if let Some(entry) = self.begin(kind, parts, value) {
            entry.keep();
        }
    }

    /// Writes a value that is not yet known to be kept.
    pub(crate) fn begin<T: Serialize>(
        &self,
        kind: EntryKind,
        parts: &[&[u8]],
        value: &T,
    ) -> Option<PendingEntry> {
        let key = Key::new(kind.name(), &program::identity()?, parts);
        let folder = folder::made(self.folder.as_deref()?)?;
        entry::write(&folder, key, |out| {
            postcard::to_io(value, out)
                .map(drop)
                .map_err(std::io::Error::other)
        })
        .ok()
    }
}

#[cfg(test)]
mod tests;
