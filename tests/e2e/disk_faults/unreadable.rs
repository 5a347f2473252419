//! A disk that does not give what it holds: no damage of the log, unless it
//! stays so.

use super::bench::{Disk, EIO};
use crate::live::line::wait;
use crate::shim::{preload, shim};
use seep_common::store::Reader;
use seep_common::time::LogMs;
use seep_tests::scratch::scratch;
use std::path::Path;
use std::process::Command;

/// What comes of opening the log of this folder under a fault of reading.
fn opened(shim: &Path, folder: &Path, which: &str) -> String {
    let outside = scratch();
    let faults = outside.path().join("faults");
    std::fs::write(&faults, format!("read {EIO} {which} trip.db\n")).expect("written");
    let mut command = Command::new(env!("CARGO_BIN_EXE_store-steps"));
    command.arg(folder).arg("reopen");
    preload(&mut command, shim, folder, ("SEEP_SHIM_FAULTS", &faults));
    let done = command.output().expect("runs");
    String::from_utf8_lossy(&done.stdout).trim().to_string()
}

#[test]
fn a_page_that_the_disk_does_not_give_is_no_damage() {
    let Some(shim) = shim("a_page_that_the_disk_does_not_give_is_no_damage") else {
        return;
    };
    let folder = scratch();
    let made = Command::new(env!("CARGO_BIN_EXE_store-steps"))
        .arg(folder.path())
        .arg("record")
        .status();
    assert!(made.expect("runs").success());
    let (mut passing, mut staying) = (Vec::new(), Vec::new());
    for n in 1..60 {
        // One call fails; every call from then on fails.
        passing.push(opened(shim, folder.path(), &format!("={n}")));
        staying.push(opened(shim, folder.path(), &format!(">{n}")));
    }
    let count = |of: &[String], word: &str| of.iter().filter(|s| s.starts_with(word)).count();
    let words = ["opened", "unreadable", "damaged", "other"];
    println!(
        "one read fails, then every read from the n-th on: {:?}, {:?}",
        words.map(|w| count(&passing, w)),
        words.map(|w| count(&staying, w))
    );
    for said in passing.iter().chain(&staying) {
        assert!(!said.starts_with("damaged"), "{said}");
        assert!(!said.starts_with("other"), "{said}");
    }
    assert!(count(&staying, "unreadable") > 20, "{staying:?}");
    assert!(count(&passing, "opened") > 20, "{passing:?}");
}

/// Half a minute of that is no hiccup: the log is moved away as it is, and
/// recording goes on.
#[test]
fn a_log_that_the_disk_keeps_back_is_set_aside_whole() {
    let Some(mut disk) = Disk::new("a_log_that_the_disk_keeps_back_is_set_aside_whole") else {
        return;
    };
    let first = disk.start();
    disk.device.wait_for_reader();
    disk.say(10);
    disk.wait_until_well(&first);
    assert_eq!(first.stop().0, 0);
    let before = std::fs::read(disk.bench.log()).expect("a log");
    disk.fail(&[format!("read {EIO} 1")]);
    let second = disk.start();
    disk.device.wait_for_reader();
    disk.say(10);
    let aside = disk.bench.folder.path().join("trip.db.damaged-1");
    std::thread::sleep(std::time::Duration::from_secs(10));
    assert!(!aside.exists(), "no hiccup is waited for");
    wait(|| aside.exists());
    disk.heal();
    disk.say(5);
    disk.wait_until_well(&second);
    assert_eq!(second.stop().0, 0);
    assert!(
        std::fs::read(&aside).expect("kept") == before,
        "was changed"
    );
    let reader = Reader::open(&disk.bench.log()).expect("a log");
    assert_eq!(reader.sessions().expect("read").len(), 1);
    let notices = reader.notices(LogMs::MIN, LogMs::MAX).expect("read");
    let told = notices
        .iter()
        .any(|n| n.text.contains("did not give the log"));
    assert!(told, "{notices:?}");
    let counters = reader.counters(LogMs::MIN, LogMs::MAX).expect("read");
    let readings: i64 = counters
        .iter()
        .filter(|c| c.name == "readings")
        .map(|c| c.count)
        .sum();
    assert_eq!(readings, 15, "what waited in memory is stored");
}
