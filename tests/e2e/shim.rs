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

/// A wall clock that only the programs of one test see, and that it can step.
pub(crate) struct WallClock {
    shim: &'static Path,
    /// The file that the shim reads: what is added to the clock, ns.
    step: PathBuf,
}

impl WallClock {
    /// A clock that is right; `None`, loudly, without the shim.
    pub(crate) fn new(test: &str, folder: &Path) -> Option<Self> {
        let shim = clock_shim(test)?;
        let clock = WallClock {
            shim,
            step: folder.join("wall-clock-step"),
        };
        clock.set_ms(0);
        Some(clock)
    }

    /// Sets how far the clock is ahead of the machine's, ms.
    pub(crate) fn set_ms(&self, ahead_ms: i64) {
        use std::os::unix::fs::FileExt as _;
        let file = std::fs::File::options()
            .write(true)
            .create(true)
            .truncate(false)
            .open(&self.step)
            .expect("opens");
        let bytes = (ahead_ms * 1_000_000).to_ne_bytes();
        file.write_all_at(&bytes, 0).expect("written");
    }

    /// Has a program see this clock, beside what it preloads already.
    pub(crate) fn preload(&self, command: &mut Command) {
        let key = std::ffi::OsStr::new("LD_PRELOAD");
        let others: Vec<_> = command.get_envs().filter(|e| e.0 == key).collect();
        let mut all = self.shim.as_os_str().to_owned();
        for other in others.into_iter().filter_map(|e| e.1) {
            all.push(":");
            all.push(other);
        }
        command
            .env("LD_PRELOAD", all)
            .env("SEEP_SHIM_SYNCED", "1")
            .env("SEEP_SHIM_WALL", &self.step);
    }
}

/// Have a program noted, or made to fail, by the shim.
pub(crate) fn preload(command: &mut Command, shim: &Path, folder: &Path, what: (&str, &Path)) {
    command
        .env("LD_PRELOAD", shim)
        .env("SEEP_SHIM_FOLDER", folder)
        .env(what.0, what.1);
}
