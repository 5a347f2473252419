//! The real recorder's life, cut: two starts, the first ended by a kill.

use super::disk::{Disk, LOSSES};
use super::promise::go_on;
use super::trace::{Record, Trace};
use crate::live::line::{Device, Socket};
use crate::live::process::{Bench, Recorder};
use crate::shim::{preload, shim};
use rustix::time::{ClockId, clock_gettime};
use seep_common::store::Reader;
use seep_tests::pattern::PER_COMMIT;
use seep_tests::scratch::scratch;
use seep_tests::seeded::Seeded;
use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;

const CUTS: usize = 200;

/// With the usual settings: a commit every 2 s, 2 s held back to see whether
/// full rate is due, and a row of 1 s at rest.
const BOUND_S: f64 = 5.0;

/// A reading every so often, ms.
const EVERY_MS: u64 = 100;

/// Pressure of the first reading, and by how much each is higher, kPa.
const FIRST_KPA: f64 = 300.0;
const MORE_KPA: f64 = 1.0;

/// Readings said before the first recorder is killed.
const FIRST_LIFE: usize = 90;

fn monotonic_ns() -> u64 {
    let now = clock_gettime(ClockId::Monotonic);
    now.tv_sec as u64 * 1_000_000_000 + now.tv_nsec as u64
}

/// Say readings for a while; notes when each was said.
fn say(device: &mut Device, readings: usize, said_ns: &mut Vec<u64>) {
    for _ in 0..readings {
        said_ns.push(monotonic_ns());
        device.say_tank(FIRST_KPA + MORE_KPA * (said_ns.len() - 1) as f64);
        std::thread::sleep(Duration::from_millis(EVERY_MS));
    }
}

/// The trace of two starts, and when each reading was said.
fn life(shim: &Path) -> (Trace, Vec<u64>) {
    let (folder, outside) = (scratch(), scratch());
    let trace = outside.path().join("trace");
    let socket = Socket::new(folder.path());
    let bench = Bench::new(socket.name(), folder);
    let mut device = socket.plug();
    let mut said_ns = Vec::new();
    let start = || -> Recorder {
        bench.start_with(|command| {
            let to = ("SEEP_SHIM_TRACE", trace.as_path());
            preload(command, shim, bench.folder.path(), to);
        })
    };
    let first = start();
    device.wait_for_reader();
    say(&mut device, FIRST_LIFE, &mut said_ns);
    first.kill();
    let second = start();
    device.wait_for_reader();
    say(&mut device, 90, &mut said_ns);
    assert_eq!(second.stop().0, 0);
    let trace = Trace::parse(std::fs::read(&trace).expect("a trace"));
    (trace, said_ns)
}

/// Rows that the status said were stored, by process.
#[derive(Default)]
struct Acknowledged {
    by_pid: BTreeMap<u64, u64>,
    last_status_ns: Option<u64>,
    longest_silence_s: f64,
}

impl Acknowledged {
    fn take(&mut self, trace: &Trace, record: &Record) {
        if record.name != "status.json.new" {
            return;
        }
        let Ok(status) = serde_json::from_str::<serde_json::Value>(trace.text(record)) else {
            return;
        };
        let pid = status["pid"].as_u64().expect("a process");
        // From one process to the next nobody runs: that is no stall.
        if let Some(before) = self.last_status_ns
            && self.by_pid.contains_key(&pid)
        {
            let silence_s = (record.at_ns - before) as f64 / 1e9;
            self.longest_silence_s = self.longest_silence_s.max(silence_s);
        }
        self.last_status_ns = Some(record.at_ns);
        let rows = status["stored_rows"].as_u64().expect("rows");
        self.by_pid.insert(pid, rows);
    }

    fn rows(&self) -> u64 {
        self.by_pid.values().sum()
    }
}

/// What the cut cost of the readings said to the recorder that ran, s.
fn loss_s(log: &Path, cut_ns: u64, said_ns: &[u64]) -> f64 {
    let reader = Reader::open(log).expect("a log");
    let columns = reader.columns(&["tank_kpa_gauge"], i64::MIN, i64::MAX);
    let values = &columns.expect("read").values[0];
    // What was added after the cut has pressures far below.
    let newest = values
        .iter()
        .copied()
        .filter(|v| *v > 250.0)
        .fold(f32::NAN, f32::max);
    let stored = if newest.is_nan() {
        0
    } else {
        ((f64::from(newest) - FIRST_KPA) / MORE_KPA) as usize + 1
    };
    let said = said_ns.iter().take_while(|t| **t < cut_ns).count();
    // What the kill took of the first life, this cut did not take.
    let begun = if said > FIRST_LIFE { FIRST_LIFE } else { 0 };
    said.saturating_sub(stored.max(begun)) as f64 * EVERY_MS as f64 / 1000.0
}

#[test]
fn no_power_cut_takes_what_the_recorder_said_was_stored() {
    let Some(shim) = shim("no_power_cut_takes_what_the_recorder_said_was_stored") else {
        return;
    };
    let (trace, said_ns) = life(shim);
    let mut random = Seeded::new(0xca4);
    let mut moments: Vec<usize> = (0..CUTS)
        .map(|_| random.below(trace.records.len()))
        .collect();
    moments.sort_unstable();
    let folder = scratch();
    let (mut disk, mut told) = (Disk::default(), Acknowledged::default());
    let (mut done, mut worst_s) = (0, 0.0_f64);
    for at in moments {
        for record in &trace.records[done..at] {
            disk.apply(&trace, record);
            told.take(&trace, record);
        }
        done = at;
        for loss in LOSSES {
            let here = folder.path().join("image");
            let _ = std::fs::remove_dir_all(&here);
            std::fs::create_dir(&here).expect("made");
            for (name, bytes) in disk.after_cut(&trace, loss, &mut random) {
                std::fs::write(here.join(name), bytes).expect("written");
            }
            let log = here.join("trip.db");
            go_on(&log, false).unwrap_or_else(|e| panic!("cut at {at}, {loss:?}: {e}"));
            let rows = Reader::open(&log)
                .expect("a log")
                .tick_count()
                .expect("read");
            let (rows, promised) = (rows - PER_COMMIT as u64, told.rows());
            assert!(
                rows >= promised,
                "cut at {at}, {loss:?}: {rows} of {promised}"
            );
            worst_s = worst_s.max(loss_s(&log, trace.records[at].at_ns, &said_ns));
        }
    }
    // A status is written every second; what is beyond that the host was busy.
    let stall_s = (told.longest_silence_s - 1.0).max(0.0);
    println!(
        "seepd run: {} records, {CUTS} cuts x {} kinds of loss: 0 damaged, 0 acknowledged rows lost of {}, largest loss {worst_s:.1} s (bound {BOUND_S} s, host busy for up to {stall_s:.1} s)",
        trace.records.len(),
        LOSSES.len(),
        told.rows(),
    );
    assert!(worst_s <= BOUND_S + stall_s, "{worst_s} s");
    assert!(told.rows() > 10, "hardly anything was stored");
}
