//! A complete copy of a log, while it is being recorded or not.

use super::StoreError;
use super::open::{check_identity, read_only};
use super::whole_copy::{copy_whole, take_name};
use std::path::Path;

/// Copy a log as it stands at this moment into a new file that can be read
/// anywhere; the log and its recorder are not disturbed.
///
/// The file alone, copied by hand, lacks what lies in its write-ahead log; this
/// copy does not. A power cut leaves it complete or empty.
///
/// # Errors
/// [`StoreError::Exists`] when the target is there; otherwise as for reading,
/// and the target is removed again.
pub fn snapshot(from: &Path, to: &Path) -> Result<(), StoreError> {
    let (connection, _scratch) = read_only(from)?;
    check_identity(&connection, from)?;
    // Made here and now, so that nothing that appears meanwhile is written over.
    take_name(to, "creating the copy")?;
    let copied = copy_whole(&connection, to, "copying the log");
    if copied.is_err() {
        let _ = std::fs::remove_file(to);
    }
    copied
}
