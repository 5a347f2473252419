//! One recorder per log.

use crate::exit::{Exit, Failure};
use std::fs::File;
use std::path::{Path, PathBuf};

/// Held while a log is recorded; freed by the system however the process ends.
#[derive(Debug)]
pub(crate) struct Lock(#[allow(dead_code, reason = "held for its lock")] Option<File>);

/// Take the lock of a log.
///
/// # Errors
/// 75 when another recorder has it, 73 when its file cannot be made.
pub(crate) fn lock(log: &Path) -> Result<Lock, Failure> {
    let mut name = log.as_os_str().to_owned();
    name.push(".lock");
    let path = PathBuf::from(name);
    let opened = File::options()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path);
    let file = match opened {
        Ok(file) => file,
        // A disk in trouble may recover while readings wait in memory.
        Err(e) if in_trouble(&e) => {
            tracing::error!("{}: {e}; recording goes on without a lock", path.display());
            return Ok(Lock(None));
        }
        Err(e) => {
            return Err(Failure::say(
                Exit::CannotCreate,
                format!(
                    "{}: {e}; give a log in a folder that exists and can be written",
                    path.display()
                ),
            ));
        }
    };
    match rustix::fs::flock(&file, rustix::fs::FlockOperation::NonBlockingLockExclusive) {
        Ok(()) => Ok(Lock(Some(file))),
        Err(rustix::io::Errno::WOULDBLOCK) => Err(Failure::say(
            Exit::Temporary,
            format!(
                "{}: another seepd records to it; stop that one first",
                log.display()
            ),
        )),
        // A medium without locks (some network shares) must not stop recording.
        Err(_) => Ok(Lock(Some(file))),
    }
}

/// Read-only, full or failing: states that a disk gets into and out of again.
fn in_trouble(e: &std::io::Error) -> bool {
    use std::io::ErrorKind::{ReadOnlyFilesystem, StorageFull};
    matches!(e.kind(), ReadOnlyFilesystem | StorageFull)
        || e.raw_os_error() == Some(rustix::io::Errno::IO.raw_os_error())
}
