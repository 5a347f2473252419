//! `seepd match`: a few invented buses here, 500 by `tests/matching/run`; the
//! command on a log file, and its answer as a bus database.

use super::SEEPD;
use seep_common::codec::dbc::{Database, Extracted};
use seep_daemon::matching::{MatchVerdict, NoteError, find_gauge};
use seep_tests::scratch::scratch;
use seep_tests::unknown_bus::{CLOCK_MS, ROUNDING_KPA, UnknownBus};
use seep_tests::{code, run};
use std::fmt::Write;

const ERROR: NoteError = NoteError {
    rounding: ROUNDING_KPA,
    clock_ms: CLOCK_MS,
};

/// Seeds apart from those of the table.
#[test]
fn the_true_signal_comes_first_and_nothing_else_is_found() {
    let (mut first, trials) = (0, 6);
    for seed in 0..trials {
        let with = UnknownBus::new(seed, 8, true);
        let result = find_gauge(&with.bus, &with.readings, ERROR);
        let right = result.best.is_some_and(|best| with.is_right(&best));
        first += u64::from(right);
        assert!(
            right || !matches!(result.verdict, MatchVerdict::Found(_)),
            "seed {seed}: {result:?}"
        );
        let without = UnknownBus::new(seed, 8, false);
        let result = find_gauge(&without.bus, &without.readings, ERROR);
        assert!(
            !matches!(result.verdict, MatchVerdict::Found(_)),
            "seed {seed}: {result:?}"
        );
    }
    assert!(first + 1 >= trials, "{first} of {trials}");
}

#[test]
fn two_readings_more_than_a_line_has_are_too_few() {
    let bus = UnknownBus::new(3, 4, true);
    let result = find_gauge(&bus.bus, &bus.readings, ERROR);
    assert!(
        !matches!(result.verdict, MatchVerdict::Found(_)),
        "{result:?}"
    );
}

/// An invented log: pressure at bytes 2 and 3, highest first, 0.5 kPa per count;
/// a counter and a clock beside it.
fn pressure_kpa(t_s: i64) -> i64 {
    let level = |n: i64| 300 + (n * 7919 % 13) * 45;
    let (step, part) = (t_s / 20, t_s % 20);
    let (from, to) = (level(step), level(step + 1));
    from + (to - from) * part.min(10) / 10
}

#[test]
fn the_command_prints_lines_that_decode_the_log() {
    let folder = scratch();
    let path = folder.path().join("bus.txt");
    let mut log = String::new();
    for n in 0..2_400 {
        let t_s = n / 10;
        let raw = 2 * pressure_kpa(t_s);
        let _ = writeln!(
            log,
            " (2025-08-10 12:{:02}:{:02}.{}00000)  can0  18FF1234   [8]  {:02X} FF {:02X} {:02X} 00 00 {:02X} {:02X}",
            t_s / 60,
            t_s % 60,
            n % 10,
            n % 256,
            raw >> 8,
            raw & 255,
            t_s & 255,
            (n * 37) & 255
        );
    }
    std::fs::write(&path, log).expect("written");
    let path = path.display().to_string();
    let notes: Vec<String> = (0..58)
        .map(|n| 4 * n + 5)
        .map(|t_s| {
            let kpa = (pressure_kpa(t_s) + 5) / 10 * 10;
            format!("--reading=12:{:02}:{:02}={kpa}", t_s / 60, t_s % 60)
        })
        .collect();
    let mut args = vec!["match", "--zone", "Europe/Berlin"];
    args.extend(notes.iter().map(String::as_str));
    args.push(&path);
    let output = run(SEEPD, &args);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(
        code(&output),
        0,
        "{text}{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let (_, lines) = text.split_once("For a DBC file:\n").expect("the lines");
    let database = Database::parse("printed", lines).expect(lines);
    let found = database.find("Frame_18FF1234.Gauge").expect(lines);
    let raw = 2 * 555;
    let frame = [0x11, 0xFF, (raw >> 8) as u8, raw as u8, 0, 0, 7, 9];
    match found.signal.extract(&frame) {
        Extracted::Value(kpa) => assert!((kpa - 555.0).abs() < 8.0, "{kpa}: {lines}"),
        other => panic!("{other:?}: {lines}"),
    }
    // Too few notes, and a note outside the recording, are told.
    let few = run(SEEPD, &["match", "--reading", "+5=400", &path]);
    assert_eq!(code(&few), 2);
    let outside = run(SEEPD, &["match", "--reading", "18:00:00=400", &path]);
    assert_eq!(code(&outside), 2);
    assert!(String::from_utf8_lossy(&outside.stderr).contains("outside the recording"));
}
