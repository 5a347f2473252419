//! A person's defaults (`seep.toml`), read from where they are kept.

use crate::exit::{Exit, Failure};
use seep_common::defaults::Defaults;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Reads the defaults; none when there is no file.
///
/// # Errors
/// 78 with file, line and key when the file has mistakes, 66 when it cannot be read.
pub(crate) fn read() -> Result<Defaults, Failure> {
    let folder = |name: &str| std::env::var_os(name).map(PathBuf::from);
    let (config, home) = (folder("XDG_CONFIG_HOME"), folder("HOME"));
    let Some(path) = Defaults::path(config.as_deref(), home.as_deref()) else {
        return Ok(Defaults::default());
    };
    let text = match std::fs::read_to_string(&path) {
        Ok(text) => text,
        Err(e) if [ErrorKind::NotFound, ErrorKind::NotADirectory].contains(&e.kind()) => {
            return Ok(Defaults::default());
        }
        // The home of another user, as for a service or under `su`.
        Err(_) if out_of_reach(&path) => return Ok(Defaults::default()),
        Err(e) => {
            return Err(Failure::say(
                Exit::NoInput,
                format!("{}: {e}", path.display()),
            ));
        }
    };
    Defaults::parse(&text).map_err(|problems| {
        let lines: Vec<_> = problems
            .iter()
            .map(|p| format!("{}: {p}", path.display()))
            .collect();
        Failure::say(Exit::Config, lines.join("\n"))
    })
}

/// True when not even whether the file is there may be known.
fn out_of_reach(path: &Path) -> bool {
    let looked = path.symlink_metadata();
    looked.is_err_and(|e| e.kind() == ErrorKind::PermissionDenied)
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
