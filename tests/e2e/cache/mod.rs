//! Reports with the cache say byte for byte what they say without.
//!
//! Every comparison is with `--no-cache` on the same files. That a report was taken from
//! the cache and not computed again shows in the folder: nothing in it is written.

mod altered;
mod damaged;

use super::{SEEP, SEEPD, replayed};
use seep_tests::{SCENARIOS, code, sample};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, SystemTime};

/// Longer than the time for which a change of a file may leave its times alone.
const SETTLED: Duration = Duration::from_millis(2_800);

/// A user's cache, and reports that use it.
struct User {
    caches: PathBuf,
}

impl User {
    fn new(folder: &Path) -> Self {
        User {
            caches: folder.join("caches"),
        }
    }

    fn folder(&self) -> PathBuf {
        self.caches.join("seep")
    }

    fn report(&self, args: &[&str]) -> String {
        report(args, &self.caches)
    }

    /// The answer with the cache, which must be that without.
    fn same(&self, args: &[&str], what: &str) -> String {
        let with = self.report(args);
        let without = report(&[args, &["--no-cache"]].concat(), &self.caches);
        assert_eq!(with, without, "{what}: {args:?}");
        with
    }

    /// Entries with the time at which each was written.
    fn entries(&self) -> BTreeMap<PathBuf, (SystemTime, u64)> {
        let found = std::fs::read_dir(self.folder()).into_iter().flatten();
        let facts = found.map(|entry| {
            let entry = entry.expect("listed");
            let metadata = entry.metadata().expect("there");
            let written = metadata.modified().expect("known");
            (entry.path(), (written, metadata.len()))
        });
        facts.collect()
    }

    /// Asks for a report that must come from the cache alone.
    fn kept(&self, args: &[&str], what: &str) -> String {
        let before = self.entries();
        assert!(!before.is_empty(), "{what}: nothing is kept");
        let answer = self.same(args, what);
        assert_eq!(self.entries(), before, "{what}: computed again");
        answer
    }
}

fn report(args: &[&str], caches: &Path) -> String {
    let done = Command::new(SEEP)
        .args(args)
        .env("TZ", "UTC")
        .env("NO_COLOR", "1")
        .env("XDG_CONFIG_HOME", "/dev/null")
        .env("XDG_CACHE_HOME", caches)
        .output()
        .expect("runs");
    let said = String::from_utf8_lossy(&done.stderr);
    assert_eq!(code(&done), 0, "{args:?}: {said}");
    assert_eq!(said, "", "{args:?}: a cache is not worth a word");
    String::from_utf8(done.stdout).expect("text")
}

fn scratch() -> tempfile::TempDir {
    tempfile::tempdir().expect("scratch")
}

const FORMS: [&[&str]; 3] = [&["--full"], &["--format", "json"], &["--format", "html"]];

#[test]
fn every_sample_log_reads_the_same_from_the_cache() {
    let folder = scratch();
    let logs: Vec<String> = SCENARIOS
        .iter()
        .map(|name| {
            let own = folder.path().join(name);
            std::fs::create_dir(&own).expect("made");
            replayed(name, &own)
        })
        .collect();
    std::thread::sleep(SETTLED);
    let user = User::new(folder.path());
    for log in &logs {
        user.same(&["trip", "--log", log], "the first time");
        // The hash of the log is not shown in brief.
        user.same(&["trip", "--log", log, "--full"], "the first time in full");
        for form in FORMS {
            for command in ["trip", "diagnose"] {
                user.kept(&[&[command, "--log", log], form].concat(), "again");
            }
        }
    }
    let all: Vec<&str> = logs.iter().map(String::as_str).collect();
    for form in FORMS {
        user.same(&[&["cars"], &all[..], form].concat(), "all of them");
    }
    // Same name, other folders: each log has its own answer.
    let answers = logs.iter().map(|log| user.report(&["trip", "--log", log]));
    let different: std::collections::BTreeSet<String> = answers.collect();
    assert_eq!(different.len(), SCENARIOS.len());
}

#[test]
fn other_spans_zones_and_units_have_their_own_answers() {
    let folder = scratch();
    let log = replayed("slow-leak-overnight", folder.path());
    std::thread::sleep(SETTLED);
    let user = User::new(folder.path());
    let whole = user.same(&["trip", "--log", &log, "--full"], "whole");
    let asked: [&[&str]; 7] = [
        &["--zone", "Asia/Kathmandu"],
        &["--unit", "psi", "--temperature", "f", "--length", "in"],
        &["--from", "2026-10-17 00:00"],
        &["--to", "2026-10-17 06:00"],
        &["--last", "night"],
        &["--session", "1"],
        &["--last", "day", "--against", "before"],
    ];
    for options in asked {
        let args = [&["trip", "--log", &log, "--full"], options].concat();
        let first = user.same(&args, "the first time");
        assert_eq!(user.kept(&args, "again"), first);
        let is_whole = options == ["--session", "1"];
        assert!(is_whole || first != whole, "{options:?}");
    }
    let moment = [
        "moment",
        "--log",
        &log,
        "--finding",
        "1",
        "--format",
        "json",
    ];
    assert_eq!(user.same(&moment, "a moment"), user.kept(&moment, "again"));
}

#[test]
fn no_cache_neither_uses_nor_keeps_anything() {
    let folder = scratch();
    let log = replayed("kinked-line", folder.path());
    std::thread::sleep(SETTLED);
    let user = User::new(folder.path());
    user.report(&["trip", "--log", &log, "--no-cache"]);
    assert!(!user.caches.exists());
    user.report(&["trip", "--log", &log]);
    let kept = user.entries().len();
    assert_eq!(kept, 3, "digest, closed sessions and fit, no hash in brief");
}

#[test]
fn a_log_written_just_now_is_not_kept() {
    let folder = scratch();
    let user = User::new(folder.path());
    let log = replayed("kinked-line", folder.path());
    user.same(&["sessions", "--log", &log, "--format", "json"], "fresh");
    assert_eq!(user.entries().len(), 0);
}
