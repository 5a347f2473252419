//! Recorded bytes → `seepd replay` → SQLite → `seep` → an answer, with the real
//! programs. All sample data is invented; that of `metro` is
//! real.

mod active;
mod against;
mod bad_input;
mod bad_rigs;
mod board;
mod browser;
mod by_hand;
mod cache;
mod cars;
mod chaos;
mod closed;
mod comfort;
mod cut_replays;
mod dated;
mod defaults;
mod disk_faults;
mod engines;
mod export;
mod foreign_files;
mod fortnight;
mod goldens;
mod hidden_marks;
mod hold;
mod hostile;
mod house;
mod inferred;
mod instructions;
mod live;
mod matching;
mod metro;
mod moment;
mod newest_first;
mod noted;
mod notify;
mod odd_files;
mod old_logs;
mod package;
mod plain_units;
mod power_cut;
mod proof;
mod rates;
mod readme;
mod rest_model;
mod same_bytes;
mod shim;
mod short_answer;
mod supply;
mod terminal;
mod truncations;
mod units;
mod verdicts;
mod verify;
mod volumes;
mod way_in;
mod why;
mod wild_cells;

const SEEPD: &str = env!("CARGO_BIN_EXE_seepd");
const SEEP: &str = env!("CARGO_BIN_EXE_seep");

/// A sample log replayed into a fresh database of this folder.
fn replayed(name: &str, folder: &std::path::Path) -> String {
    let logs = seep_tests::sample(name);
    let at = |file: &str| logs.join(file).display().to_string();
    let log = folder.join("trip.db").display().to_string();
    let (rig, bus, wire) = (at("rig.toml"), at("bus.candump.log"), at("box.nmea.log"));
    let args = ["replay", "--rig", &rig, "--log", &log, &bus, &wire];
    let done = seep_tests::run(SEEPD, &args);
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(seep_tests::code(&done), 0, "{said}");
    log
}
