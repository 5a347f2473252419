//! What other programs can do to the files of a running recorder. Whatever it is:
//! status and journal say it, recording goes on, and every row called stored is
//! found in a file or counted as lost with its cause.

use super::line::Device;
use super::process::{Bench, Recorder};
use seep_common::store::Reader;
use seep_common::store::cause::LOG_CHANGED;
use seep_common::time::LogMs;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// A deed, and what the status says afterwards.
pub(crate) struct Variant {
    pub(crate) name: &'static str,
    pub(crate) deed: fn(&Path),
    told: &'static str,
    /// No row may be lost.
    pub(crate) costs_nothing: bool,
}

pub(crate) const VARIANTS: [Variant; 13] = [
    Variant {
        name: "log deleted",
        deed: |log| fs::remove_file(log).expect("deleted"),
        told: "the log was deleted",
        costs_nothing: true,
    },
    Variant {
        name: "log and write-ahead log deleted",
        deed: |log| {
            fs::remove_file(log).expect("deleted");
            fs::remove_file(beside(log, "-wal")).expect("deleted");
            let _ = fs::remove_file(beside(log, "-shm"));
        },
        told: "the log was deleted",
        costs_nothing: true,
    },
    Variant {
        name: "folder removed",
        deed: |log| fs::remove_dir_all(log.parent().expect("a folder")).expect("removed"),
        told: "the log was deleted",
        costs_nothing: true,
    },
    Variant {
        name: "folder renamed",
        deed: |log| {
            let folder = log.parent().expect("a folder");
            fs::rename(folder, folder.with_file_name("elsewhere")).expect("renamed");
        },
        told: "the log was renamed",
        costs_nothing: true,
    },
    Variant {
        name: "log renamed",
        deed: |log| fs::rename(log, log.with_file_name("moved.db")).expect("renamed"),
        told: "the log was renamed",
        costs_nothing: true,
    },
    Variant {
        name: "log replaced by something else",
        deed: |log| {
            let other = log.with_file_name("other");
            fs::write(&other, "no database, only words".repeat(40)).expect("written");
            fs::rename(other, log).expect("replaced");
        },
        told: "another file was put in the place",
        costs_nothing: true,
    },
    Variant {
        name: "log replaced by its own copy",
        deed: |log| {
            let other = log.with_file_name("other.db");
            let from = rusqlite::Connection::open(log).expect("opens");
            let name = other.display().to_string();
            from.execute("VACUUM INTO ?1", [name]).expect("copied");
            drop(from);
            fs::rename(other, log).expect("replaced");
        },
        told: "another file was put in the place",
        costs_nothing: true,
    },
    Variant {
        name: "log emptied",
        deed: |log| drop(fs::File::create(log).expect("emptied")),
        told: "cut short or written over",
        costs_nothing: false,
    },
    Variant {
        name: "log cut short",
        deed: |log| cut(log, 3_000),
        told: "cut short or written over",
        costs_nothing: false,
    },
    Variant {
        name: "log written over",
        deed: |log| fs::write(log, "words".repeat(20_000)).expect("written"),
        told: "cut short or written over",
        costs_nothing: false,
    },
    Variant {
        name: "write-ahead log deleted",
        deed: |log| fs::remove_file(beside(log, "-wal")).expect("deleted"),
        told: "the write-ahead log was deleted",
        costs_nothing: true,
    },
    Variant {
        name: "write-ahead log replaced",
        deed: |log| {
            let other = log.with_file_name("other-wal");
            fs::write(&other, "no write-ahead log").expect("written");
            fs::rename(other, beside(log, "-wal")).expect("replaced");
        },
        told: "in the place of the write-ahead log",
        costs_nothing: true,
    },
    Variant {
        name: "write-ahead log emptied",
        deed: |log| cut(&beside(log, "-wal"), 0),
        told: "the write-ahead log was cut short",
        costs_nothing: false,
    },
];

fn beside(log: &Path, ending: &str) -> PathBuf {
    log.with_extension(format!("db{ending}"))
}

fn cut(path: &Path, bytes: u64) {
    let file = fs::File::options().write(true).open(path).expect("there");
    file.set_len(bytes).expect("cut");
}

fn stored(bench: &Bench) -> u64 {
    let status = bench.status();
    status.and_then(|s| s["stored_rows"].as_u64()).unwrap_or(0)
}

/// Record until so many more rows are called stored.
fn record(bench: &Bench, device: &mut Device, rows: u64) {
    let enough = stored(bench) + rows;
    let mut kpa = 800.0;
    let until = Instant::now() + Duration::from_secs(30);
    while stored(bench) < enough {
        device.say_tank(kpa);
        kpa += 0.1;
        std::thread::sleep(Duration::from_millis(20));
        assert!(Instant::now() < until, "{:?}", bench.status());
    }
}

/// Rows in every log under a folder; a row that two of them have counts once.
fn rows_under(top: &Path) -> Vec<i64> {
    let mut rows = Vec::new();
    let mut folders = vec![top.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let is_side_file = ["-wal", "-shm", "-journal"]
                .iter()
                .any(|e| path.to_string_lossy().ends_with(e));
            if is_side_file {
                continue;
            }
            if let Ok(reader) = Reader::open(&path) {
                let columns = reader.columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX);
                rows.extend(columns.expect("read").t_ms);
            }
        }
    }
    rows.sort_unstable();
    rows.dedup();
    rows
}

/// Every row of a run is in a file or counted as lost.
fn assert_all_accounted_for(bench: &Bench, recorder: Recorder, variant: &Variant) {
    let name = variant.name;
    let (_, said) = recorder.stop();
    assert!(said.contains(variant.told), "{name}: {said}");
    let status = bench.status().expect("told");
    let in_files = rows_under(bench.folder.path()).len() as u64;
    let counted = bench.counted(&format!("rows lost, {LOG_CHANGED}")) as u64;
    let (stored, lost) = (
        status["stored_rows"].as_u64().expect("a number"),
        status["lost_rows"].as_u64().expect("a number"),
    );
    assert_eq!(counted, lost, "{name}: log and status disagree\n{said}");
    // The last status is younger than the stop by a commit at most.
    assert!(
        in_files >= stored,
        "{name}: {stored} called stored, {in_files} in files, {lost} lost\n{said}"
    );
    assert_eq!(
        variant.costs_nothing,
        lost == 0,
        "{name}: {lost} lost\n{said}"
    );
    if lost > 0 {
        let gaps = bench.reader().gaps(LogMs::MIN, LogMs::MAX).expect("read");
        assert!(
            gaps.iter().any(|g| g.cause == LOG_CHANGED),
            "{name}: {gaps:?}"
        );
    }
    let notices = bench
        .reader()
        .notices(LogMs::MIN, LogMs::MAX)
        .expect("read");
    assert!(
        notices.iter().any(|n| n.text.contains(variant.told)),
        "{name}: {notices:?}"
    );
}

fn one(variant: &Variant) {
    let (bench, socket) = Bench::on_a_line();
    let home = bench.folder.path().join("logs");
    fs::create_dir(&home).expect("made");
    let bench = Bench {
        log_name: Some("logs/trip.db".into()),
        ..bench
    };
    let mut device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    record(&bench, &mut device, 20);
    (variant.deed)(&bench.log());
    let until = Instant::now() + Duration::from_secs(30);
    while bench.status().is_none_or(|s| s["log_changed"].is_null()) {
        std::thread::sleep(Duration::from_millis(20));
        let status = bench.status();
        assert!(Instant::now() < until, "{}: {status:?}", variant.name);
    }
    let told = bench.status().expect("told")["log_changed"].to_string();
    assert!(told.contains(variant.told), "{}: {told}", variant.name);
    record(&bench, &mut device, 5);
    assert_all_accounted_for(&bench, recorder, variant);
}

#[test]
fn whatever_is_done_to_the_files_is_told_and_every_row_is_accounted_for() {
    std::thread::scope(|scope| {
        for lane in 0..4 {
            let lane = VARIANTS.iter().skip(lane).step_by(4);
            scope.spawn(move || lane.for_each(one));
        }
    });
}

#[test]
fn a_second_recorder_is_refused_by_whatever_name_it_finds_the_log() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let first = bench.start();
    record(&bench, &mut device, 1);
    let link = bench.folder.path().join("link.db");
    std::os::unix::fs::symlink(bench.log(), &link).expect("linked");
    let hard = bench.folder.path().join("hard.db");
    fs::hard_link(bench.log(), &hard).expect("linked");
    // An older seepd kept its lock in this file; it decides nothing.
    let _ = fs::remove_file(bench.folder.path().join("trip.db.lock"));
    for name in ["trip.db", "link.db", "hard.db"] {
        let (code, said) = bench.start_on(name).outcome();
        assert_eq!(code, 75, "{name}: {said}");
        assert!(
            said.contains("another seepd records to it"),
            "{name}: {said}"
        );
    }
    super::locks::assert_held(first.id(), &bench.log(), "three recorders refused");
    record(&bench, &mut device, 3);
    let (code, said) = first.stop();
    assert_eq!(code, 0, "{said}");
}
