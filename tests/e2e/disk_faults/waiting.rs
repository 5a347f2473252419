//! While the log cannot be written, readings wait in memory and the status is
//! red; afterwards everything is stored.

use super::bench::{Disk, EIO, ENOSPC, EROFS, rows_stored};
use seep_common::store::Reader;
use seep_common::time::LogMs;

fn readings_wait_and_are_stored(test: &str, faults: &[String]) {
    let Some(mut disk) = Disk::new(test) else {
        return;
    };
    let recorder = disk.start();
    disk.device.wait_for_reader();
    disk.say(10);
    disk.wait_until_well(&recorder);
    assert_eq!(disk.asked().0, 0, "well at first: {}", disk.asked().1);
    disk.fail(faults);
    disk.say(40);
    disk.wait_for_trouble();
    let (code, shown) = disk.asked();
    assert_eq!(code, 1, "red: {shown}");
    let trouble = disk.bench.status().expect("a status")["trouble"].clone();
    assert!(shown.contains(trouble.as_str().expect("text")), "{shown}");
    disk.heal();
    disk.say(10);
    disk.wait_until_well(&recorder);
    let (code, shown) = disk.asked();
    assert_eq!(code, 0, "well again: {shown}");
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    let reader = Reader::open(&disk.bench.log()).expect("a log");
    println!(
        "{test}: {} readings said, {} stored in {} rows; while failing: {trouble}",
        disk.said(),
        disk.bench.counted("readings"),
        rows_stored(&said)
    );
    assert_eq!(disk.bench.counted("readings"), disk.said());
    assert_eq!(reader.tick_count().expect("read"), rows_stored(&said));
    let notices = reader.notices(LogMs::MIN, LogMs::MAX).expect("read");
    let told = notices
        .iter()
        .any(|n| n.text.contains("can be written again"));
    assert!(told, "{notices:?}");
    assert_eq!(reader.gaps(LogMs::MIN, LogMs::MAX).expect("read").len(), 0);
}

#[test]
fn a_disk_that_turns_read_only() {
    let faults = ["open", "write", "truncate", "unlink"].map(|op| format!("{op} {EROFS} 1"));
    readings_wait_and_are_stored("a_disk_that_turns_read_only", &faults);
}

#[test]
fn a_disk_that_fails_to_write_and_to_sync() {
    let faults = ["write", "sync"].map(|op| format!("{op} {EIO} 1"));
    readings_wait_and_are_stored("a_disk_that_fails_to_write_and_to_sync", &faults);
}

#[test]
fn a_disk_that_only_fails_to_sync() {
    let faults = [format!("sync {EIO} 1")];
    readings_wait_and_are_stored("a_disk_that_only_fails_to_sync", &faults);
}

#[test]
fn a_full_disk() {
    let faults = [format!("write {ENOSPC} 1")];
    readings_wait_and_are_stored("a_full_disk", &faults);
}
