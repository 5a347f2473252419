//! The same log gives the same bytes, and says what it was made from.

use super::{SEEP, replayed};
use seep_common::store::sha256_file;
use seep_tests::{code, sample};
use std::path::Path;
use std::process::Command;

/// A report made in another folder, with other threads, another zone of the
/// machine and another language.
fn made(args: &[&str], folder: &Path, surroundings: [(&str, &str); 3]) -> String {
    let done = Command::new(SEEP)
        .args(args)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .env("XDG_CACHE_HOME", "/dev/null")
        .envs(surroundings)
        .output()
        .expect("runs");
    assert_eq!(
        code(&done),
        0,
        "{args:?}: {}",
        String::from_utf8_lossy(&done.stderr)
    );
    String::from_utf8_lossy(&done.stdout).into_owned()
}

const HERE: [(&str, &str); 3] = [("TZ", "UTC"), ("POLARS_MAX_THREADS", "1"), ("LC_ALL", "C")];
const THERE: [(&str, &str); 3] = [
    ("TZ", "Asia/Kathmandu"),
    ("POLARS_MAX_THREADS", "4"),
    ("LC_ALL", "de_DE.UTF-8"),
];

#[test]
fn the_same_log_gives_the_same_bytes_of_every_command_and_form() {
    let (one, other) = (
        tempfile::tempdir().expect("scratch"),
        tempfile::tempdir().expect("scratch"),
    );
    let log = replayed("worn-compressor", one.path());
    std::fs::copy(&log, other.path().join("trip.db")).expect("copied");
    let plan = sample("../plans/autumn-show.toml").display().to_string();
    let commands: [&[&str]; 10] = [
        &["trip"],
        &["diagnose"],
        &["leaks"],
        &["moves"],
        &["duty"],
        &["sessions"],
        &["verify"],
        &["proof", "--plan", &plan],
        &["trip", "--last", "day", "--against", "before"],
        &["leaks", "--last", "night", "--unit", "psi"],
    ];
    for command in commands {
        for format in ["text", "html", "json", "csv"] {
            let rest = [
                "--log",
                "trip.db",
                "--zone",
                "Europe/Berlin",
                "--format",
                format,
            ];
            let full: &[&str] = if format == "text" { &["--full"] } else { &[] };
            let args = [command, &rest, full].concat();
            let first = made(&args, one.path(), HERE);
            assert_eq!(
                first,
                made(&args, other.path(), THERE),
                "{args:?} elsewhere"
            );
            made_from_is_told(&first, Path::new(&log), &args);
        }
    }
    for form in ["csv", "json"] {
        let args = ["export", "--log", "trip.db", "--format", form];
        let first = made(&args, one.path(), HERE);
        assert_eq!(first, made(&args, other.path(), THERE), "{args:?}");
    }
}

/// Hash of the file, version of the program, hash of the rig, span, coverage.
fn made_from_is_told(report: &str, log: &Path, args: &[&str]) {
    // A terminal may break a line inside a hash; a page may not.
    let flat: String = report.split_whitespace().collect();
    let hash = sha256_file(log).expect("read");
    for must in [
        hash.as_str(),
        env!("CARGO_PKG_VERSION"),
        "overage",
        "2026-05-",
    ] {
        assert!(flat.contains(must), "{args:?}: {must}");
    }
    let rig = flat
        .to_lowercase()
        .replace(['_', '"', ':', ',', '<', '>', '/'], "");
    assert!(rig.contains("righash"), "{args:?}: hash of the rig");
}

#[test]
fn parquet_is_the_same_too() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    let rows = |name: &str, surroundings| {
        let out = folder.path().join(name).display().to_string();
        let args = [
            "export", "--log", &log, "--format", "parquet", "--out", &out,
        ];
        let _ = made(&args, folder.path(), surroundings);
        std::fs::read(&out).expect("written")
    };
    assert!(rows("a.parquet", HERE) == rows("b.parquet", THERE));
}
