//! The disk shim of `tests/shim`: compiled once, preloaded into real programs.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// The compiled shim, or why there is none.
static BUILT: OnceLock<Result<PathBuf, String>> = OnceLock::new();

/// The compiled shim; without it the caller is skipped, loudly.
pub(crate) fn shim(test: &str) -> Option<&'static Path> {
    match BUILT.get_or_init(build) {
        Ok(path) => Some(path),
        Err(why) => {
            eprintln!("SKIPPED LOUDLY: {test}: the disk shim cannot be used: {why}");
            None
        }
    }
}

fn build() -> Result<PathBuf, String> {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("shim/disk.c");
    let to = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("shim-{}.so", std::process::id()));
    let cc = Command::new("cc")
        .args(["-O1", "-shared", "-fPIC", "-pthread", "-o"])
        .args([&to, &source])
        .arg("-ldl")
        .output()
        .map_err(|e| format!("cc: {e}"))?;
    if !cc.status.success() {
        return Err(String::from_utf8_lossy(&cc.stderr).into_owned());
    }
    // Does this system preload at all?
    let folder = tempfile::tempdir().map_err(|e| e.to_string())?;
    let trace = folder.path().join("trace");
    let probe = Command::new("cp")
        .env("LD_PRELOAD", &to)
        .env("SEEP_SHIM_FOLDER", folder.path())
        .env("SEEP_SHIM_TRACE", &trace)
        .arg(&source)
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
