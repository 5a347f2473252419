//! The log of a replay: commands are executed at once, and the first error ends it.

use super::log_file::LogFile;
use crate::exit::{Exit, Failure};
use crate::session::StorageCommand;
use seep_common::store::{Reader, StoreError, StoreErrorClass, Writer};
use seep_common::time::LogMs;
use std::path::{Path, PathBuf};

/// A log that ends later is not added to, ms: twice the last time an input may
/// have, so that no sum of times overflows.
const LATEST_LOG_MS: LogMs = LogMs(2 * 7_258_118_400_000);

/// Where the log is and how it may be made.
#[derive(Debug, Clone)]
pub(crate) struct Target {
    pub path: PathBuf,
    pub append: bool,
}

/// Executes the commands of a replay.
pub(crate) struct ReplayLog {
    target: Target,
    names: String,
    log_file: Option<LogFile>,
    ticks: u64,
    sessions: u64,
}

impl ReplayLog {
    /// Returns a log that is opened, or made, with the first session; `names`
    /// says what is replayed.
    pub(crate) fn new(target: Target, names: &str) -> Self {
        ReplayLog {
            target,
            names: names.into(),
            log_file: None,
            ticks: 0,
            sessions: 0,
        }
    }

    /// Executes a command.
    ///
    /// # Errors
    /// When the log cannot be opened, made or written.
    pub(crate) fn execute(&mut self, command: StorageCommand) -> Result<(), Failure> {
        let begins = matches!(command, StorageCommand::Begin { .. });
        let log_file = match &mut self.log_file {
            Some(log_file) => log_file,
            none => {
                let writer = open_log(&self.target)?;
                none.insert(LogFile::of_replay(
                    self.target.path.clone(),
                    writer,
                    &self.names,
                ))
            }
        };
        self.ticks += log_file.execute(command).map_err(failure)?;
        self.sessions += u64::from(begins);
        Ok(())
    }

    /// Returns how many rows and sessions were stored.
    pub(crate) fn stored(&self) -> (u64, u64) {
        (self.ticks, self.sessions)
    }

    /// Closes the log.
    ///
    /// # Errors
    /// When what was written does not reach the disk.
    pub(crate) fn close(mut self) -> Result<(), Failure> {
        match &mut self.log_file {
            Some(log_file) => log_file.close().map_err(failure),
            None => Ok(()),
        }
    }
}

fn open_log(target: &Target) -> Result<Writer, Failure> {
    let opened = if target.append && target.path.exists() {
        Writer::open(&target.path)
    } else {
        Writer::create(&target.path)
    };
    let writer = opened.map_err(failure)?;
    match writer.last_t_ms() {
        Some(last_ms) if last_ms > LATEST_LOG_MS => Err(Failure::say(
            Exit::Data,
            format!(
                "{}: its last row lies beyond the year 2200, which no recorder wrote; record into another log",
                target.path.display()
            ),
        )),
        _ => Ok(writer),
    }
}

/// Checks before anything is read that no log would be written over.
///
/// # Errors
/// 73 when it exists and may not be added to; 65 when it is no log.
pub(crate) fn check_target(target: &Target) -> Result<(), Failure> {
    if !target.path.exists() {
        return Ok(());
    }
    if !target.append {
        return Err(failure(StoreError::Exists {
            path: target.path.clone(),
        }));
    }
    check_log(&target.path)
}

/// Checks that a log can be read, without changing it.
///
/// # Errors
/// 66, 65 or 74 by what is wrong.
pub(crate) fn check_log(path: &Path) -> Result<(), Failure> {
    match Reader::open(path) {
        Ok(_) | Err(StoreError::NothingYet { .. }) => Ok(()),
        Err(other) => Err(failure(other)),
    }
}

/// Returns the failure of a command that an error of the log ends.
pub(crate) fn failure(error: StoreError) -> Failure {
    let exit = match error.class() {
        StoreErrorClass::NotThere => Exit::NoInput,
        StoreErrorClass::NotALog => Exit::Data,
        StoreErrorClass::NotCreated => Exit::CannotCreate,
        StoreErrorClass::Held => Exit::Temporary,
        StoreErrorClass::InputOutput => Exit::Io,
    };
    Failure::new(exit, error)
}
