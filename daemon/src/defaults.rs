//! A person's defaults (`seep.toml`), with this program's exit codes.

use crate::exit::{Exit, Failure};
use seep_common::defaults::{Defaults, DefaultsError};
use std::path::PathBuf;

/// Reads the defaults; none when there is no file.
///
/// # Errors
/// 78 with file, line and key when the file has mistakes, 66 when it cannot be read.
pub(crate) fn read() -> Result<Defaults, Failure> {
    Defaults::of_this_user().map_err(|e| {
        let exit = match e {
            DefaultsError::Mistakes { .. } => Exit::Config,
            DefaultsError::Unreadable { .. } => Exit::NoInput,
        };
        Failure::say(exit, e.to_string())
    })
}

/// The log as given, or the one of the defaults.
///
/// # Errors
/// 2 when neither names one, or those of [`read`].
pub(crate) fn log(given: Option<&PathBuf>) -> Result<PathBuf, Failure> {
    if let Some(log) = given {
        return Ok(log.clone());
    }
    read()?.log.ok_or_else(|| {
        Failure::say(
            Exit::Usage,
            "which log? give --log FILE, or write `log = \"…\"` once into ~/.config/seep/seep.toml",
        )
    })
}
