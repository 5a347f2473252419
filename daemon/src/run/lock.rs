//! One recorder per log.
//!
//! The storage thread holds the log's file itself, so that no other name and no
//! link leads a second recorder to it. What is asked here is asked again there;
//! here it gives an answer before anything is started.

use crate::exit::{Exit, Failure};
use rustix::fs::{Access, access};
use rustix::io::Errno;
use seep_common::store::is_being_written;
use std::path::Path;

/// Refuse a log that another recorder writes, and one that cannot be made.
///
/// # Errors
/// 75 when another recorder has it, 73 when its folder is missing or closed to us.
pub(crate) fn check_free(log: &Path) -> Result<(), Failure> {
    if std::fs::metadata(log).is_ok_and(|m| m.is_file()) {
        if is_being_written(log) {
            let text = format!(
                "{}: another seepd records to it; stop that one first",
                log.display()
            );
            return Err(Failure::say(Exit::Temporary, text));
        }
        return Ok(());
    }
    match access(folder_of(log), Access::WRITE_OK | Access::EXEC_OK) {
        Ok(()) => Ok(()),
        // A disk in trouble may recover while readings wait in memory.
        Err(e @ (Errno::ROFS | Errno::NOSPC | Errno::IO)) => {
            tracing::error!("{}: {e}; readings wait in memory", log.display());
            Ok(())
        }
        Err(e) => Err(Failure::say(
            Exit::CannotCreate,
            format!(
                "{}: {e}; give a log in a folder that exists and can be written",
                log.display()
            ),
        )),
    }
}

fn folder_of(log: &Path) -> &Path {
    match log.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}
