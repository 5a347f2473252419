//! `seep verify`: sound, damaged, salvaged, with the real programs.

use super::{SEEP, SEEPD, replayed};
use seep_tests::seeded::Seeded;
use seep_tests::{code, run};
use serde_json::Value;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

fn verify(log: &str, more: &[&str]) -> (i32, Value) {
    let mut args = vec!["verify", "--log", log, "--format", "json", "--zone", "UTC"];
    args.extend(more);
    let done = run(SEEP, &args);
    let report = serde_json::from_slice(&done.stdout).unwrap_or(Value::Null);
    (code(&done), report)
}

#[test]
fn a_sound_log_is_fine() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let (code, report) = verify(&log, &[]);
    assert_eq!(code, 0);
    assert_eq!(report["verdict"]["severity"], "fine", "{report}");
}

/// A worn card: noise where pages of ticks were. The answer of the trip
/// outlives it, and the damaged file is never touched.
#[test]
fn a_damaged_log_is_said_to_be_and_what_is_left_still_answers() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let mut bytes = std::fs::read(&log).expect("there");
    for byte in &mut bytes[60 * 4096..63 * 4096] {
        *byte = byte.wrapping_mul(181).wrapping_add(71);
    }
    std::fs::write(&log, &bytes).expect("written");
    let (code_before, report) = verify(&log, &[]);
    assert_eq!(code_before, 65);
    assert_eq!(report["verdict"]["severity"], "act");
    let new = folder.path().join("saved.db").display().to_string();
    assert_eq!(verify(&log, &["--salvage", &new]).0, 0);
    assert_eq!(
        verify(&log, &["--salvage", &new]).0,
        73,
        "never written over"
    );
    let (code_after, report) = verify(&new, &[]);
    assert_eq!(
        (code_after, &report["verdict"]["severity"]),
        (0, &"fine".into())
    );
    let causes = report["health"]["gaps"].as_array().expect("gaps");
    assert!(
        causes
            .iter()
            .any(|g| g["cause"] == "not readable: damaged file")
    );
    let done = run(
        SEEP,
        &["trip", "--log", &new, "--format", "json", "--zone", "UTC"],
    );
    let trip: Value = serde_json::from_slice(&done.stdout).expect("JSON");
    assert_eq!(trip["findings"][0]["kind"], "corner_leak");
    assert_eq!(std::fs::read(&log).expect("there"), bytes, "untouched");
}

#[test]
fn what_is_no_log_is_refused() {
    let folder = tempfile::tempdir().expect("scratch");
    let text = folder.path().join("notes.txt");
    std::fs::write(&text, "not a database, only words ".repeat(100)).expect("written");
    assert_eq!(verify(&text.display().to_string(), &[]).0, 65);
    assert_eq!(verify("/none/such.db", &[]).0, 66);
}

/// Looks at one log that is being restarted.
const LOOKS: usize = 25;

/// Logs looked at; a long run is asked for by `SEEP_VERIFY_LOGS=8`.
fn logs_looked_at() -> u64 {
    let asked = std::env::var("SEEP_VERIFY_LOGS");
    asked.ok().and_then(|n| n.parse().ok()).unwrap_or(1)
}

/// Adds recordings to a log one after the other and kills some on the way, until
/// it is done; returns how many, and how many of them were killed.
fn restart_until(done: &AtomicBool, log: &str, seed: u64) -> (u32, u32) {
    let from = seep_tests::sample("slow-leak-overnight");
    let mut random = Seeded::new(seed);
    let (mut restarts, mut kills) = (0, 0);
    while !done.load(Ordering::Relaxed) {
        let mut recorder = Command::new(SEEPD)
            .args(["replay", "--append", "--log", log, "--rig"])
            .arg(from.join("rig.toml"))
            .arg(from.join("box.nmea.log"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("starts");
        restarts += 1;
        if random.below(3) == 0 {
            std::thread::sleep(Duration::from_millis(random.below(400) as u64));
            let _ = recorder.kill();
            kills += 1;
        }
        let _ = recorder.wait();
    }
    (restarts, kills)
}

/// Recordings are added one after the other, some of them killed on the way: the
/// file changes between its two kinds of journal all the time, and a change of it
/// may be half done. Nothing of that is damage.
#[test]
fn a_log_whose_recorder_restarts_all_the_time_is_never_called_damaged() {
    let (mut looks, mut restarts, mut kills) = (0, 0, 0);
    let mut alarms = Vec::new();
    for seed in 0..logs_looked_at() {
        let folder = tempfile::tempdir().expect("scratch");
        let log = replayed("slow-leak-overnight", folder.path());
        let done = AtomicBool::new(false);
        std::thread::scope(|scope| {
            let recorder = scope.spawn(|| restart_until(&done, &log, seed));
            for _ in 0..LOOKS {
                let (code, report) = verify(&log, &[]);
                looks += 1;
                if code != 0 {
                    alarms.push(format!("seed {seed}, {code}: {}", report["verdict"]));
                }
            }
            done.store(true, Ordering::Relaxed);
            let (started, killed) = recorder.join().expect("no panic");
            restarts += started;
            kills += killed;
        });
    }
    println!(
        "{} of {looks} looks call it damaged; {restarts} restarts, {kills} of them killed",
        alarms.len()
    );
    assert!(alarms.is_empty(), "{alarms:?}");
    assert!(restarts > 1, "the log did not change");
}

/// A recorder killed while it changed the kind of journal leaves a rollback
/// journal: the change is undone by the next program, and no damage.
#[test]
fn a_rollback_journal_beside_the_log_is_no_damage() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let copy = folder.path().join("cut.db");
    let connection = rusqlite::Connection::open(&log).expect("opens");
    connection
        .execute_batch(
            "PRAGMA cache_size = 2; PRAGMA cache_spill = 2; BEGIN IMMEDIATE;
             UPDATE tick SET t_ms = t_ms + 1000000000000;",
        )
        .expect("half done");
    std::fs::copy(&log, &copy).expect("copied");
    let journal = format!("{log}-journal");
    std::fs::copy(&journal, copy.with_extension("db-journal")).expect("a journal");
    let (before, copy) = (
        std::fs::read(&copy).expect("there"),
        copy.display().to_string(),
    );
    let (code, report) = verify(&copy, &[]);
    assert_eq!(
        (code, &report["verdict"]["severity"]),
        (0, &"fine".into()),
        "{report}"
    );
    assert_eq!(std::fs::read(&copy).expect("there"), before, "untouched");
}
