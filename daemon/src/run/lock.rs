//! One recorder per log.

use crate::exit::{Exit, Failure};
use std::fs::File;
use std::path::{Path, PathBuf};

/// Held while a log is recorded; freed by the system however the process ends.
#[derive(Debug)]
pub(crate) struct Lock(#[allow(dead_code, reason = "held for its lock")] File);

/// Take the lock of a log.
///
/// # Errors
/// 75 when another recorder has it, 73 when its file cannot be made.
pub(crate) fn lock(log: &Path) -> Result<Lock, Failure> {
    let mut name = log.as_os_str().to_owned();
    name.push(".lock");
    let path = PathBuf::from(name);
    let file = File::options()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path)
        .map_err(|e| {
            Failure::say(
                Exit::CannotCreate,
                format!(
                    "{}: {e}; give a log in a folder that exists and can be written",
                    path.display()
                ),
            )
        })?;
    match rustix::fs::flock(&file, rustix::fs::FlockOperation::NonBlockingLockExclusive) {
        Ok(()) => Ok(Lock(file)),
        Err(rustix::io::Errno::WOULDBLOCK) => Err(Failure::say(
            Exit::Temporary,
            format!(
                "{}: another seepd records to it; stop that one first",
                log.display()
            ),
        )),
        // A medium without locks (some network shares) must not stop recording.
        Err(_) => Ok(Lock(file)),
    }
}
