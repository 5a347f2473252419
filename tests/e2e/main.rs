//! Recorded bytes → `seepd replay` → SQLite → `seep` → an answer, with the real
//! programs. All sample data is invented.

mod bad_input;
mod cut_replays;
mod truncations;
mod verdicts;

const SEEPD: &str = env!("CARGO_BIN_EXE_seepd");
const SEEP: &str = env!("CARGO_BIN_EXE_seep");
