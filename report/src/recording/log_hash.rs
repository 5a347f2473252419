//! The log's SHA-256, taken once and kept.

use crate::cache::{Cache, EntryKind};
use seep_common::store::{Fingerprint, sha256_file};
use std::path::Path;

/// SHA-256 of a log, hex: kept from an earlier run while nothing wrote to the file, else
/// taken. `None` where it cannot be read.
pub(super) fn of_log(path: &Path, cache: &Cache) -> Option<String> {
    let before = Fingerprint::of_file(path);
    if let Some(kept) = before.as_ref().and_then(|print| kept(print, cache)) {
        return Some(kept);
    }
    let hash = sha256_file(path).ok()?;
    if let Some(print) = before.filter(Fingerprint::is_settled)
        && Fingerprint::of_file(path).as_ref() == Some(&print)
    {
        cache.put(EntryKind::LogHash, &[print.as_bytes()], &hash);
    }
    Some(hash)
}

/// The hash that is kept of a log.
pub(super) fn kept_of_log(path: &Path, cache: &Cache) -> Option<String> {
    kept(&Fingerprint::of_file(path)?, cache)
}

fn kept(print: &Fingerprint, cache: &Cache) -> Option<String> {
    cache.get(EntryKind::LogHash, &[print.as_bytes()])
}
