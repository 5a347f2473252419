//! The README's examples are what the programs take.

use super::SEEPD;
use seep_common::time::LogMs;
use seep_tests::{code, run};
use std::path::Path;

fn readme() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../README.md");
    std::fs::read_to_string(path).expect("there")
}

fn rig_of_the_readme() -> String {
    let text = readme();
    let (_, after) = text.split_once("```toml\n").expect("a rig");
    let (rig, _) = after.split_once("```").expect("its end");
    rig.to_string()
}

#[test]
fn the_rig_is_understood_and_the_sentence_becomes_the_pressure_it_should() {
    let folder = tempfile::tempdir().expect("scratch");
    let rig = folder.path().join("rig.toml");
    std::fs::write(&rig, rig_of_the_readme()).expect("written");
    let rig = rig.display().to_string();
    let checked = run(SEEPD, &["check", "--rig", &rig]);
    assert_eq!(
        code(&checked),
        0,
        "{}",
        String::from_utf8_lossy(&checked.stderr)
    );

    let text = readme();
    let sentence = text
        .lines()
        .map(str::trim)
        .find(|l| l.starts_with("$YXXDR,U,"))
        .expect("a sentence");
    let capture = folder.path().join("box.nmea");
    let tag = |t: i64| {
        let body = format!("c:{t}");
        let sum = body.bytes().fold(0u8, |s, b| s ^ b);
        format!("\\{body}*{sum:02X}\\{sentence}\r\n")
    };
    let lines: String = (0..5).map(|i| tag(1_790_000_000_000 + i * 1_000)).collect();
    std::fs::write(&capture, lines).expect("written");
    let log = folder.path().join("trip.db");
    let done = run(
        SEEPD,
        &[
            "replay",
            "--rig",
            &rig,
            "--log",
            &log.display().to_string(),
            &capture.display().to_string(),
        ],
    );
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    let reader = seep_common::store::Reader::open(&log).expect("a log");
    let columns = reader
        .columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX)
        .expect("read");
    // 0.5 V to 4.5 V are 0 to 1,400 kPa: 2.2841 V is 624.4 kPa.
    assert_eq!(columns.values[0].len(), 5);
    for value in &columns.values[0] {
        assert!((value - 624.4).abs() < 0.1, "{value}");
    }
}

#[test]
fn the_readme_names_commands_that_exist() {
    let text = readme();
    for program in [SEEPD, super::SEEP] {
        let help = run(program, &["--help"]);
        let help = String::from_utf8_lossy(&help.stdout).into_owned();
        let name = if program == SEEPD { "seepd" } else { "seep" };
        // Commands stand in indented blocks; prose does not.
        for line in text.lines() {
            let Some(rest) = line.strip_prefix(&format!("    {name} ")) else {
                continue;
            };
            let word = rest.split(' ').next().expect("a word");
            assert!(
                help.contains(&format!("  {word}")),
                "`{name} {word}` is not in the help"
            );
        }
    }
}
