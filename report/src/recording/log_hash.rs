//! The log's SHA-256, taken once and kept.

use crate::cache::{Cache, EntryKind};
use seep_common::store::{Fingerprint, sha256_file};
use std::path::Path;

/// SHA-256 of a log, hex: kept from an earlier run while nothing wrote to the file, else
/// still to be taken.
pub(super) enum LogHash {
    Kept(String),
    /// With the state of the file, where a hash of it can be kept.
    ToTake(Option<Fingerprint>),
}

impl LogHash {
    pub(super) fn of_log(path: &Path, cache: &Cache) -> Self {
        let print = cache.is_somewhere().then(|| Fingerprint::of_file(path));
        let print = print.flatten();
        let kept = print
            .as_ref()
            .and_then(|print| cache.get(EntryKind::LogHash, &[print.as_bytes()]));
        kept.map_or(LogHash::ToTake(print), LogHash::Kept)
    }

    /// The hash; `None` where the file cannot be read.
    pub(super) fn taken(self, path: &Path, cache: &Cache) -> Option<String> {
        let before = match self {
            LogHash::Kept(hash) => return Some(hash),
            LogHash::ToTake(print) => print,
        };
        let hash = sha256_file(path).ok()?;
        if let Some(print) = before.filter(Fingerprint::is_settled)
            && Fingerprint::of_file(path).as_ref() == Some(&print)
        {
            cache.put(EntryKind::LogHash, &[print.as_bytes()], &hash);
        }
        Some(hash)
    }
}
