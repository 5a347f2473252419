//! Every n-th call fails, from the first call of the start-up on, for each kind
//! of call and fault. What was said is stored, or a row tells how much is not.

use super::bench::{Disk, EIO, ENOSPC, EROFS, rows_stored};
use seep_common::store::{Reader, inspect};
use seep_common::time::LogMs;
use std::sync::Mutex;

/// Which calls: all, every n-th, one only.
const WHICH: [&str; 8] = ["1", "2", "3", "7", "=1", "=3", "=9", ">25"];

/// Recorders at once; they mostly wait.
const AT_ONCE: usize = 8;

fn kinds() -> Vec<String> {
    let failing = [
        ("write", ENOSPC),
        ("write", EIO),
        ("write", EROFS),
        ("sync", EIO),
        ("sync", ENOSPC),
        ("open", EROFS),
        ("read", EIO),
        ("truncate", EIO),
        ("unlink", EROFS),
    ];
    let mut out: Vec<String> = failing.iter().map(|(op, e)| format!("{op} {e}")).collect();
    out.push("sync +400".into());
    out
}

/// Says which fault it was when a life goes wrong in the middle.
struct Tell<'a>(&'a str);

impl Drop for Tell<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            eprintln!("the fault was: {}", self.0);
        }
    }
}

/// One life with a fault; what was stored and lost.
fn ordeal(fault: &str) -> Option<(u64, i64)> {
    let mut disk = Disk::new("every_nth_call_fails")?;
    let _tell = Tell(fault);
    disk.fail(&[fault.to_string()]);
    let recorder = disk.start();
    disk.device.wait_for_reader();
    disk.say(45);
    disk.heal();
    disk.say(5);
    disk.wait_until_well(&recorder);
    let (code, said) = recorder.stop();
    let log = disk.bench.log();
    let reader = Reader::open(&log).expect("a log");
    let rows = reader.tick_count().expect("read");
    let counters = reader.counters(LogMs::MIN, LogMs::MAX).expect("read");
    let sum = |name: &str| -> i64 {
        let of = counters.iter().filter(|c| c.name == name);
        of.map(|c| c.count).sum()
    };
    let lost = sum("rows lost, log could not be written");
    let gaps = reader.gaps(LogMs::MIN, LogMs::MAX).expect("read");
    let gaps = gaps
        .iter()
        .filter(|g| g.cause.contains("could not be written"));
    // The disk hiccuped: that is no damage.
    let notices = reader.notices(LogMs::MIN, LogMs::MAX).expect("read");
    let aside = notices.iter().find(|n| n.text.contains("set aside"));
    assert_eq!(aside, None, "{fault}: {said}");
    assert_eq!(code, 0, "{fault}: {said}");
    assert_eq!(sum("readings"), disk.said(), "{fault}: {said}");
    assert_eq!(rows, rows_stored(&said), "{fault}: {said}");
    assert_eq!(lost > 0, gaps.count() > 0, "{fault}");
    let look = inspect(&log, i64::MAX).expect("a log");
    assert!(look.is_sound(), "{fault}: {look:?}");
    Some((rows, lost))
}

#[test]
fn every_nth_call_fails() {
    let all: Vec<String> = kinds()
        .iter()
        .flat_map(|kind| WHICH.iter().map(move |which| format!("{kind} {which}")))
        .collect();
    let todo = Mutex::new(all.clone());
    let sums = Mutex::new((0_usize, 0_u64, 0_i64));
    std::thread::scope(|scope| {
        for _ in 0..AT_ONCE {
            scope.spawn(|| {
                loop {
                    let Some(fault) = todo.lock().expect("unharmed").pop() else {
                        return;
                    };
                    if let Some((rows, lost)) = ordeal(&fault) {
                        let mut sums = sums.lock().expect("unharmed");
                        *sums = (sums.0 + 1, sums.1 + rows, sums.2 + lost);
                    }
                }
            });
        }
    });
    let (lives, rows, lost) = sums.into_inner().expect("unharmed");
    println!("{lives} lives with faults: {rows} rows stored, {lost} lost and told");
}
