//! Helpers of the end-to-end tests: paths, a scratch folder, both programs.

pub mod contents;
pub mod fuzz;
pub mod lift_bench;
pub mod pattern;
pub mod scratch;
pub mod seeded;
pub mod unknown_bus;

use std::ffi::OsString;
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

/// The text of a rig without its channels of valves and compressors: the recorder
/// then tells from the pressures when they were on.
#[must_use]
pub fn without_switches(rig: &str) -> String {
    const CHANNEL: &str = "[[channel]]";
    let switch = |part: &str| {
        let endings = ["_fill\"", "_dump\"", "_on\""];
        endings.iter().any(|ending| part.contains(ending))
    };
    let mut parts = rig.split(CHANNEL);
    let mut out = parts.next().unwrap_or_default().to_string();
    for part in parts.filter(|part| !switch(part)) {
        out.push_str(CHANNEL);
        out.push_str(part);
    }
    out
}

/// Commands of `seep` that answer on one screen unless asked for everything.
const REPORTS: [&str; 12] = [
    "trip", "leaks", "duty", "moves", "diagnose", "sessions", "volumes", "verify", "proof", "hold",
    "moment", "compare",
];

/// Run a program and wait for it. A report is asked for whole (`--full`); the answer on
/// one screen is [`run_as_typed`].
///
/// # Panics
/// When the program cannot be started.
#[must_use]
pub fn run(program: &str, args: &[&str]) -> Output {
    let is_report = |a: &&str| REPORTS.contains(a) || *a == "cars";
    let whole = program.ends_with("/seep")
        && args.first().is_some_and(is_report)
        && !args.contains(&"--help");
    let full: &[&str] = if whole { &["--full"] } else { &[] };
    run_as_typed(program, &[args, full].concat())
}

/// Run a program with exactly these arguments and wait for it.
///
/// # Panics
/// When the program cannot be started.
#[must_use]
pub fn run_as_typed(program: &str, args: &[&str]) -> Output {
    Command::new(program)
        .args(args)
        .env("TZ", "UTC")
        .env("NO_COLOR", "1")
        // Not the defaults of the person who runs the tests.
        .env("XDG_CONFIG_HOME", "/dev/null")
        // Nor what earlier runs kept: no folder can be made there.
        .env("XDG_CACHE_HOME", "/dev/null")
        .output()
        .expect("the program was built with this test")
}

/// Exit code, or 255 for a signal.
#[must_use]
pub fn code(output: &Output) -> i32 {
    output.status.code().unwrap_or(255)
}

/// `seepd replay` in this process: its exit code and what it said.
#[must_use]
pub fn replay_in_process(rig: &Path, log: &Path, inputs: &[&Path]) -> (u8, String) {
    let words: [OsString; 6] = [
        "seepd".into(),
        "replay".into(),
        "--rig".into(),
        rig.into(),
        "--log".into(),
        log.into(),
    ];
    let inputs = inputs.iter().map(|path| path.as_os_str().to_owned());
    seepd_in_process(words.into_iter().chain(inputs))
}

/// `seepd` in this process: its exit code and what it said on both streams.
#[must_use]
pub fn seepd_in_process(args: impl Iterator<Item = OsString>) -> (u8, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = seep_daemon::main_with(args, &mut out, &mut err);
    out.extend(err);
    (code, String::from_utf8_lossy(&out).into_owned())
}

/// A Python that can import these modules (`a, b`), or none.
#[must_use]
pub fn python_with(modules: &str) -> Option<String> {
    let candidates = [
        std::env::var("SEEP_TEST_PYTHON").unwrap_or_default(),
        "python3".to_string(),
    ];
    candidates.into_iter().find(|python| {
        !python.is_empty()
            && Command::new(python)
                .args(["-c", &format!("import {modules}")])
                .output()
                .is_ok_and(|done| done.status.success())
    })
}
