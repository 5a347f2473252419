//! What is wrong with the machine that is to record, and what to do about it.
//!
//! Each look is one file; it reads files of the kernel below a root that tests
//! can build, and says what it found. Nothing is opened for writing, nothing is
//! sent.

mod bus;
mod clock;
mod filesystem;
mod finding;
mod log;
mod serial;
mod software;

pub(crate) use finding::{Finding, Grade};

use seep_common::rig::Rig;
use std::path::{Path, PathBuf};

/// What is looked at.
pub(crate) struct Host<'a> {
    /// Where the kernel's files are: `/`, or a test's folder.
    pub root: &'a Path,
    /// The rig, if one was given.
    pub rig: Option<&'a Rig>,
    /// The log, if one was given.
    pub log: Option<&'a Path>,
}

impl Host<'_> {
    fn file(&self, path: &str) -> PathBuf {
        self.root.join(path.trim_start_matches('/'))
    }

    /// Content of a kernel file, without its end of line.
    fn read(&self, path: &str) -> Option<String> {
        let text = std::fs::read_to_string(self.file(path)).ok()?;
        Some(text.trim_end().to_string())
    }
}

/// Look at everything.
pub(crate) fn examine(host: &Host) -> Vec<Finding> {
    [
        clock::look(host),
        software::look(),
        filesystem::look(host),
        log::look(host),
        bus::look(host),
        serial::look(host),
    ]
    .concat()
}

#[cfg(test)]
mod tests;
