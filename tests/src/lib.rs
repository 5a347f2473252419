//! Helpers of the end-to-end tests: paths, a scratch folder, both programs.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Every scenario with checked-in logs.
pub const SCENARIOS: [&str; 5] = [
    "fill-valve-passing",
    "healthy-road-trip",
    "kinked-line",
    "slow-leak-overnight",
    "worn-compressor",
];

/// Folder of one sample log.
#[must_use]
pub fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../sample-logs/logs")
        .join(name)
}

/// Run a program and wait for it.
///
/// # Panics
/// When the program cannot be started.
#[must_use]
pub fn run(program: &str, args: &[&str]) -> Output {
    Command::new(program)
        .args(args)
        .env("TZ", "UTC")
        .env("NO_COLOR", "1")
        .output()
        .expect("the program was built with this test")
}

/// Exit code, or 255 for a signal.
#[must_use]
pub fn code(output: &Output) -> i32 {
    output.status.code().unwrap_or(255)
}
