//! Other programs open, ask and close the log while it is recorded.

use super::line::{Device, wait};
use super::locks::assert_held;
use super::process::{Bench, Recorder};
use crate::{SEEP, SEEPD};
use seep_tests::python_with;
use seep_tests::seeded::Seeded;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

/// Kills per run; a long run is asked for by `SEEP_CLIENT_KILLS=50`.
fn kills() -> u64 {
    let asked = std::env::var("SEEP_CLIENT_KILLS");
    asked.ok().and_then(|n| n.parse().ok()).unwrap_or(6)
}

/// A name, and what it does with a log.
pub(crate) type Client = (&'static str, fn(&Path));

/// Ways to open a log, ask something and close it.
pub(crate) const CLIENTS: [Client; 7] = [
    ("the sqlite3 shell", shell),
    ("Python", python),
    ("Python, read-only", python_read_only),
    ("the C interface", library),
    ("seep verify", verify),
    ("seep sessions", sessions),
    ("seepd snapshot", snapshot),
];

const QUESTION: &str = "select count(*) from reading";

fn quietly(program: &str, args: &[&str]) {
    // A client that is refused (a table that is not there yet) has opened and
    // closed the log all the same.
    let done = Command::new(program).args(args).output();
    if let Err(e) = done {
        eprintln!("SKIPPED LOUDLY: {program} as a client of a running log: {e}");
    }
}

fn shell(log: &Path) {
    quietly("sqlite3", &[&log.display().to_string(), QUESTION]);
}

fn python(log: &Path) {
    python_opens(&log.display().to_string(), "False");
}

fn python_read_only(log: &Path) {
    python_opens(&format!("file:{}?mode=ro", log.display()), "True");
}

fn python_opens(name: &str, uri: &str) {
    let Some(python) = python_with("sqlite3") else {
        eprintln!("SKIPPED LOUDLY: no Python with sqlite3 as a client of a running log");
        return;
    };
    let text = format!(
        "import sqlite3\nc = sqlite3.connect({name:?}, uri={uri})\nprint(c.execute({QUESTION:?}).fetchall())\nc.close()"
    );
    quietly(&python, &["-c", &text]);
}

fn library(log: &Path) {
    if let Ok(connection) = rusqlite::Connection::open(log) {
        let _ = connection.query_row(QUESTION, [], |row| row.get::<_, i64>(0));
    }
}

fn verify(log: &Path) {
    quietly(SEEP, &["verify", "--log", &log.display().to_string()]);
}

fn sessions(log: &Path) {
    quietly(SEEP, &["sessions", "--log", &log.display().to_string()]);
}

fn snapshot(log: &Path) {
    let copy = log.with_extension("copy");
    let _ = std::fs::remove_file(&copy);
    let (log, copy) = (log.display().to_string(), copy.display().to_string());
    quietly(SEEPD, &["snapshot", "--log", &log, &copy]);
}

fn stored(bench: &Bench, recorder: &Recorder) -> Option<u64> {
    let status = bench.status()?;
    (status["pid"] == recorder.id())
        .then(|| status["stored_rows"].as_u64())
        .flatten()
}

fn talk(device: &mut Device, ms: usize) {
    for i in 0..ms / 20 {
        device.say_tank(800.0 + i as f64 / 10.0);
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// One life of a new log: readings, clients at moments that the seed chooses, a
/// kill; what the status called stored is in the file.
fn one_life(seed: u64) {
    let mut random = Seeded::new(seed);
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let recorder = bench.start();
    wait(|| bench.status().is_some_and(|s| !s["session"].is_null()));
    let mut history = Vec::new();
    for _ in 0..3 + random.below(4) {
        talk(&mut device, 20 * random.below(60));
        let (name, client) = CLIENTS[random.below(CLIENTS.len())];
        client(&bench.log());
        history.push(name);
        assert_held(recorder.id(), &bench.log(), name);
    }
    while stored(&bench, &recorder).is_none_or(|rows| rows == 0) {
        talk(&mut device, 100);
    }
    talk(&mut device, 20 * random.below(200));
    let acknowledged = stored(&bench, &recorder).expect("told");
    recorder.kill();
    let found = bench.reader().tick_count().expect("read");
    assert!(
        found >= acknowledged,
        "seed {seed}: {acknowledged} rows called stored, {found} found, after {history:?}"
    );
}

#[test]
fn no_row_called_stored_is_lost_whoever_opens_and_closes_the_log_of_a_recorder_that_is_killed() {
    let kills = kills();
    std::thread::scope(|scope| {
        for lane in 0..2 {
            scope.spawn(move || (lane..kills).step_by(2).for_each(one_life));
        }
    });
}
