//! Files that are no log of ours, given as log: a documented exit code, a message
//! that names the file, and not one byte written, made or removed beside it.

use super::{SEEP, SEEPD};
use seep_tests::scratch::{listing, scratch};
use seep_tests::seeded::Seeded;
use seep_tests::{code, run, sample};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Every command of `seep` that reads a log.
const READING: [&str; 6] = ["sessions", "leaks", "duty", "moves", "trip", "verify"];

fn sqlite(path: &Path, statements: &str) -> rusqlite::Connection {
    let connection = rusqlite::Connection::open(path).expect("opens");
    connection.execute_batch(statements).expect("runs");
    connection
}

/// Run every command on a file as its log: the code of each, and the folder as
/// it was before.
fn refused(folder: &TempDir, log: &Path, expected: i32) {
    let before = listing(folder.path());
    let name = log.file_name().expect("a name").to_string_lossy();
    let log = log.to_str().expect("UTF-8");
    let rig = sample("kinked-line").join("rig.toml").display().to_string();
    let wire = sample("kinked-line").join("box.nmea.log");
    let wire = wire.display().to_string();
    let copy = folder.path().join("copy.db").display().to_string();
    let mut done: Vec<_> = (READING.iter())
        .map(|command| (*command, run(SEEP, &[command, "--log", log])))
        .collect();
    let replay = ["replay", "--rig", &rig, "--log", log];
    done.push((
        "append",
        run(SEEPD, &[&replay[..], &["--append", &wire]].concat()),
    ));
    done.push(("check", run(SEEPD, &["check", "--rig", &rig, "--log", log])));
    done.push(("snapshot", run(SEEPD, &["snapshot", "--log", log, &copy])));
    for (command, output) in &done {
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(code(output), expected, "{command} {name}: {said}");
        assert!(said.contains(&*name), "{command}: {said}");
    }
    let again = run(SEEPD, &[&replay[..], &[&wire]].concat());
    assert_eq!(code(&again), if expected == 66 { 0 } else { 73 });
    if expected != 66 {
        assert!(
            listing(folder.path()) == before,
            "{name} was not left alone"
        );
    }
}

fn file(name: &str, bytes: &[u8]) -> (TempDir, PathBuf) {
    let folder = scratch();
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).expect("written");
    (folder, path)
}

#[test]
fn a_file_that_is_no_database_is_refused_and_left_alone() {
    let mut seeded = Seeded::new(3);
    for bytes in [
        b"mine".to_vec(),
        seeded.bytes(200_000),
        [b"SQLite format 3\0".to_vec(), seeded.bytes(20)].concat(),
    ] {
        let (folder, path) = file("notes.txt", &bytes);
        refused(&folder, &path, 65);
    }
}

#[test]
fn random_bytes_behind_a_right_header_are_refused_and_left_alone() {
    let (folder, log) = small_log();
    let head = std::fs::read(&log).expect("a log")[..100].to_vec();
    drop(folder);
    let mut seeded = Seeded::new(4);
    for _ in 0..10 {
        let bytes = [head.clone(), seeded.bytes(8 * 4096 - 100)].concat();
        let (folder, path) = file("noise.db", &bytes);
        let before = listing(folder.path());
        for command in READING {
            let done = run(SEEP, &[command, "--log", path.to_str().expect("UTF-8")]);
            assert_eq!(code(&done), 65, "{command}");
        }
        assert!(listing(folder.path()) == before);
    }
}

#[test]
fn a_database_of_another_program_is_refused_and_left_alone() {
    let folder = scratch();
    let path = folder.path().join("other.db");
    sqlite(&path, "CREATE TABLE t(a); INSERT INTO t VALUES (1);");
    refused(&folder, &path, 65);
}

/// Its last changes still wait in a write-ahead log: opening it with SQLite could
/// finish them, and that is not ours to do.
#[test]
fn a_database_in_use_by_another_program_is_refused_and_left_alone() {
    let own = scratch();
    let source = own.path().join("busy.db");
    let connection = sqlite(
        &source,
        "PRAGMA journal_mode = WAL; CREATE TABLE t(a); INSERT INTO t VALUES (1);",
    );
    for with_shared_memory in [true, false] {
        let folder = scratch();
        let path = folder.path().join("busy.db");
        for ending in ["", "-wal", "-shm"] {
            if ending == "-shm" && !with_shared_memory {
                continue;
            }
            let from = format!("{}{ending}", source.display());
            let to = format!("{}{ending}", path.display());
            std::fs::copy(from, to).expect("copied");
        }
        assert!(listing(folder.path()).len() >= 2);
        refused(&folder, &path, 65);
    }
    drop(connection);
}

#[test]
fn a_database_with_our_mark_and_other_tables_is_refused_and_left_alone() {
    let folder = scratch();
    let path = folder.path().join("marked.db");
    sqlite(
        &path,
        "PRAGMA application_id = 0x53454550; PRAGMA user_version = 1; CREATE TABLE t(a);",
    );
    let before = listing(folder.path());
    let log = path.to_str().expect("UTF-8");
    for command in READING {
        let done = run(SEEP, &[command, "--log", log]);
        assert_eq!(code(&done), 65, "{command}");
    }
    assert!(listing(folder.path()) == before);
}

#[test]
fn a_log_of_a_newer_version_is_refused_and_left_alone() {
    let folder = scratch();
    let path = folder.path().join("newer.db");
    sqlite(
        &path,
        "PRAGMA application_id = 0x53454550; PRAGMA user_version = 99; CREATE TABLE t(a);",
    );
    refused(&folder, &path, 65);
}

#[test]
fn a_missing_log_is_said_to_be_missing() {
    let folder = scratch();
    let path = folder.path().join("none.db");
    for command in READING {
        let done = run(SEEP, &[command, "--log", path.to_str().expect("UTF-8")]);
        assert_eq!(code(&done), 66, "{command}");
    }
    assert!(listing(folder.path()).is_empty());
}

#[test]
fn a_folder_or_a_pipe_is_refused_at_once() {
    let folder = scratch();
    let within = folder.path().join("folder.db");
    std::fs::create_dir(&within).expect("made");
    refused(&folder, &within, 65);
    let pipe = folder.path().join("pipe.db");
    let mode = rustix::fs::Mode::RUSR | rustix::fs::Mode::WUSR;
    let fifo = rustix::fs::FileType::Fifo;
    rustix::fs::mknodat(rustix::fs::CWD, &pipe, fifo, mode, 0).expect("made");
    for command in READING {
        // Opening it would wait for ever; the test run would stand still.
        let done = run(SEEP, &[command, "--log", pipe.to_str().expect("UTF-8")]);
        assert_eq!(code(&done), 65, "{command}");
    }
}

fn small_log() -> (TempDir, PathBuf) {
    let folder = scratch();
    let log = folder.path().join("trip.db");
    let at = |name: &str| sample("kinked-line").join(name);
    let (code, said) =
        seep_tests::replay_in_process(&at("rig.toml"), &log, &[&at("bus.candump.log")]);
    assert_eq!(code, 0, "{said}");
    (folder, log)
}

/// An own log is only read: no command of `seep` changes it or leaves a file.
#[test]
fn reading_a_log_leaves_no_trace() {
    let (folder, log) = small_log();
    let before = listing(folder.path());
    assert_eq!(before.len(), 1);
    for command in READING {
        let done = run(SEEP, &[command, "--log", log.to_str().expect("UTF-8")]);
        assert_eq!(code(&done), 0, "{command}");
    }
    assert!(listing(folder.path()) == before);
}

/// Bytes changed at random in an own log: any answer is right but a crash, and
/// the file stays as it is.
#[test]
fn a_log_with_flipped_bytes_never_crashes_a_command() {
    let (_kept, log) = small_log();
    let whole = std::fs::read(&log).expect("a log");
    let mut seeded = Seeded::new(5);
    for round in 0..24 {
        let mut bytes = whole.clone();
        for _ in 0..1 + round * 4 {
            let at = 100 + seeded.below(bytes.len() - 100);
            bytes[at] = seeded.bits() as u8;
        }
        if round % 3 == 0 {
            bytes.truncate(seeded.below(bytes.len()).max(200));
        }
        let (folder, path) = file("flipped.db", &bytes);
        for command in ["trip", "verify"] {
            let done = run(SEEP, &[command, "--log", path.to_str().expect("UTF-8")]);
            let said = String::from_utf8_lossy(&done.stderr);
            assert!(
                [0, 2, 65].contains(&code(&done)),
                "{command} {round}: {said}"
            );
        }
        assert!(listing(folder.path())["flipped.db"] == bytes);
        assert_eq!(listing(folder.path()).len(), 1);
    }
}
