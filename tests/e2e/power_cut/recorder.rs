//! The real recorder's life, cut: two starts, the first ended by a kill.

use super::disk::{Disk, LOSSES};
use super::promise::go_on;
use super::trace::{Record, Trace};
use crate::live::line::{Device, Socket};
use crate::live::process::{Bench, Recorder};
use crate::shim::{preload, shim};
use rustix::time::{ClockId, clock_gettime};
use seep_common::store::Reader;
use seep_common::time::LogMs;
use seep_tests::pattern::PER_COMMIT;
use seep_tests::scratch::scratch;
use seep_tests::seeded::Seeded;
use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;

const CUTS: usize = 200;

/// A reading every so often, ms.
const EVERY_MS: u64 = 100;

/// Pressure of the first reading, kPa.
const FIRST_KPA: f64 = 300.0;

/// What the vehicle does, and what a cut may take then.
struct State {
    name: &'static str,
    /// Settings of the rig.
    recorder: &'static str,
    /// By how much each reading is higher, kPa.
    more_kpa: f64,
    /// Readings in one row.
    row: usize,
    /// Readings said in each of the two lives.
    readings: usize,
    bound_s: f64,
}

/// With the usual settings: a commit every 2 s, 2 s held back to see whether
/// full rate is due, and a row of at most 1 s.
const AWAKE: State = State {
    name: "awake",
    recorder: "",
    more_kpa: 1.0,
    row: 1,
    readings: 90,
    bound_s: 2.0 + 2.0 + 1.0,
};

/// The same at rest, where commits are rarer: here every 6 s instead of 5 min, after
/// 1 s instead of 5 min, so that a test can wait for several.
const AT_REST: State = State {
    name: "at rest",
    recorder: "[recorder]\nrest_after_s = 1\nrest_commit_s = 6\n",
    more_kpa: 0.05,
    row: 10,
    readings: 200,
    bound_s: 6.0 + 2.0 + 1.0,
};

fn monotonic_ns() -> u64 {
    let now = clock_gettime(ClockId::Monotonic);
    now.tv_sec as u64 * 1_000_000_000 + now.tv_nsec as u64
}

/// Say readings for a while; notes when each was said.
fn say(device: &mut Device, state: &State, said_ns: &mut Vec<u64>) {
    for _ in 0..state.readings {
        said_ns.push(monotonic_ns());
        device.say_tank(FIRST_KPA + state.more_kpa * (said_ns.len() - 1) as f64);
        std::thread::sleep(Duration::from_millis(EVERY_MS));
    }
}

/// The trace of two starts, and when each reading was said.
fn life(shim: &Path, state: &State) -> (Trace, Vec<u64>) {
    let (folder, outside) = (scratch(), scratch());
    let trace = outside.path().join("trace");
    let socket = Socket::new(folder.path());
    let bench = Bench::new(socket.name(), folder);
    let rig = std::fs::read_to_string(bench.rig()).expect("a rig");
    bench.write_rig(&format!("{rig}{}", state.recorder));
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
    say(&mut device, state, &mut said_ns);
    first.kill();
    let second = start();
    device.wait_for_reader();
    say(&mut device, state, &mut said_ns);
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
fn loss_s(log: &Path, state: &State, cut_ns: u64, said_ns: &[u64]) -> f64 {
    let reader = Reader::open(log).expect("a log");
    let columns = reader.columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX);
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
        // A row is the mean of its readings.
        let middle = (f64::from(newest) - FIRST_KPA) / state.more_kpa;
        (middle + (state.row - 1) as f64 / 2.0).round() as usize + 1
    };
    let said = said_ns.iter().take_while(|t| **t < cut_ns).count();
    // What the kill took of the first life, this cut did not take.
    let first = state.readings;
    let begun = if said > first { first } else { 0 };
    said.saturating_sub(stored.max(begun)) as f64 * EVERY_MS as f64 / 1000.0
}

#[test]
fn no_power_cut_takes_what_the_recorder_said_was_stored() {
    if let Some(shim) = shim("no_power_cut_takes_what_the_recorder_said_was_stored") {
        cut(shim, &AWAKE);
    }
}

#[test]
fn at_rest_a_power_cut_takes_what_one_rare_commit_holds_and_nothing_that_was_stored() {
    if let Some(shim) = shim("at_rest_a_power_cut_takes_what_one_rare_commit_holds") {
        let worst_s = cut(shim, &AT_REST);
        assert!(worst_s > AWAKE.bound_s, "was it at rest? {worst_s} s");
    }
}

/// Cut a life at many moments; the largest loss, s.
fn cut(shim: &Path, state: &State) -> f64 {
    let (trace, said_ns) = life(shim, state);
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
            worst_s = worst_s.max(loss_s(&log, state, trace.records[at].at_ns, &said_ns));
        }
    }
    // A status is written every second; what is beyond that the host was busy.
    let stall_s = (told.longest_silence_s - 1.0).max(0.0);
    println!(
        "seepd run, {}: {} records, {CUTS} cuts x {} kinds of loss: 0 damaged, 0 acknowledged rows lost of {}, largest loss {worst_s:.1} s (bound {} s, host busy for up to {stall_s:.1} s)",
        state.name,
        trace.records.len(),
        LOSSES.len(),
        told.rows(),
        state.bound_s,
    );
    assert!(worst_s <= state.bound_s + stall_s, "{worst_s} s");
    assert!(told.rows() > 10, "hardly anything was stored");
    worst_s
}
