//! A complete copy of a log, while it is being recorded or not.

use super::StoreError;
use super::open::{check_identity, read_only};
use super::whole_copy::copy_whole;
use std::path::Path;

/// Copy a log as it stands at this moment into a new file that can be read
/// anywhere; the log and its recorder are not disturbed.
///
/// The file alone, copied by hand, lacks what lies in its write-ahead log; this
/// copy does not. A power cut leaves it complete or not there at all.
///
/// # Errors
/// [`StoreError::Exists`] when the target is there; otherwise as for reading,
/// and no target is made.
pub fn snapshot(from: &Path, to: &Path) -> Result<(), StoreError> {
    let (connection, _scratch) = read_only(from)?;
    check_identity(&connection, from)?;
    copy_whole(&connection, to, "copying the log")
}
