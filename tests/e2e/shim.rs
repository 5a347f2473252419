//! The shims of `tests/shim`: compiled once, preloaded into real programs.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// The compiled shims, or why there are none.
static DISK: OnceLock<Result<PathBuf, String>> = OnceLock::new();
static CLOCK: OnceLock<Result<PathBuf, String>> = OnceLock::new();

/// The shim of the disk; without it the caller is skipped, loudly.
pub(crate) fn shim(test: &str) -> Option<&'static Path> {
    or_skip(test, DISK.get_or_init(disk))
}

/// The shim of the clock; without it the caller is skipped, loudly.
pub(crate) fn clock_shim(test: &str) -> Option<&'static Path> {
    or_skip(test, CLOCK.get_or_init(|| compiled("clock")))
}

fn or_skip(test: &str, built: &'static Result<PathBuf, String>) -> Option<&'static Path> {
    match built {
        Ok(path) => Some(path),
        Err(why) => {
            eprintln!("SKIPPED LOUDLY: {test}: a shim cannot be used: {why}");
            None
        }
    }
}

fn source(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("shim/{name}.c"))
}

fn compiled(name: &str) -> Result<PathBuf, String> {
    let file = format!("shim-{name}-{}.so", std::process::id());
    let to = Path::new(env!("CARGO_TARGET_TMPDIR")).join(file);
    let cc = Command::new("cc")
        .args(["-O1", "-shared", "-fPIC", "-pthread", "-o"])
        .args([&to, &source(name)])
        .arg("-ldl")
        .output()
        .map_err(|e| format!("cc: {e}"))?;
    if cc.status.success() {
        Ok(to)
    } else {
        Err(String::from_utf8_lossy(&cc.stderr).into_owned())
    }
}

fn disk() -> Result<PathBuf, String> {
    let to = compiled("disk")?;
    // Does this system preload at all?
    let folder = tempfile::tempdir().map_err(|e| e.to_string())?;
    let trace = folder.path().join("trace");
    let probe = Command::new("cp")
        .env("LD_PRELOAD", &to)
        .env("SEEP_SHIM_FOLDER", folder.path())
        .env("SEEP_SHIM_TRACE", &trace)
        .arg(source("disk"))
        .arg(folder.path().join("copy"))
        .output()
        .map_err(|e| e.to_string())?;
    if probe.status.success() && trace.exists() {
        Ok(to)
    } else {
        Err("LD_PRELOAD has no effect here".into())
    }
}

/// Have a program noted, or made to fail, by the shim.
pub(crate) fn preload(command: &mut Command, shim: &Path, folder: &Path, what: (&str, &Path)) {
    command
        .env("LD_PRELOAD", shim)
        .env("SEEP_SHIM_FOLDER", folder)
        .env(what.0, what.1);
}
