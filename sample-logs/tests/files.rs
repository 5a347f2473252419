//! The logs at hand, the command line, and the same bytes every time.

mod support;

use seep_sample_logs::generate;
use seep_sample_logs::scenario::{BUILTIN, builtin};
use std::path::{Path, PathBuf};
use std::process::Command;
use support::logs_of;

fn logs_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("logs")
}

fn sample_logs(arguments: &[&str]) -> (Option<i32>, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_sample-logs"))
        .args(arguments)
        .output()
        .expect("the program runs");
    let text = [out.stdout, out.stderr].concat();
    (out.status.code(), String::from_utf8(text).expect("text"))
}

#[test]
fn the_logs_at_hand_are_what_the_simulator_makes() {
    for known in BUILTIN.iter().filter(|known| known.kept) {
        let logs = logs_of(known.name);
        let difference = logs.first_difference(&logs_folder().join(known.name));
        assert_eq!(difference.expect("readable"), None, "{}", known.name);
    }
}

#[test]
fn the_logs_at_hand_stay_small() {
    let mut bytes = 0;
    for folder in std::fs::read_dir(logs_folder()).expect("logs") {
        for file in std::fs::read_dir(folder.expect("entry").path()).expect("folder") {
            bytes += file.expect("file").metadata().expect("metadata").len();
        }
    }
    assert!(bytes > 5_000_000 && bytes < 12_000_000, "{bytes}");
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_does_not() {
    let scenario = builtin("axle-circuits").expect("known");
    let (one, two) = (generate(&scenario), generate(&scenario));
    assert_eq!(one, two);
    let other = generate(&scenario.varied(5));
    assert_ne!(one.nmea, other.nmea);
    assert_eq!(other, generate(&scenario.varied(5)));
    assert_ne!(
        one.truth.parameters.circuits["rear"],
        other.truth.parameters.circuits["rear"]
    );
}

#[test]
fn gen_check_names_the_first_difference() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().to_str().expect("text");
    let (code, said) = sample_logs(&["gen", "axle-circuits", "--check", "--out", out]);
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("bus.candump.log is missing"), "{said}");

    assert_eq!(
        sample_logs(&["gen", "axle-circuits", "--out", out]).0,
        Some(0)
    );
    let (code, said) = sample_logs(&["gen", "axle-circuits", "--check", "--out", out]);
    assert_eq!(
        (code, said.contains("every byte as made")),
        (Some(0), true),
        "{said}"
    );

    let path = folder.path().join("axle-circuits/box.nmea.log");
    let mut bytes = std::fs::read(&path).expect("written");
    let second_line = bytes.iter().position(|b| *b == b'\n').expect("lines") + 1;
    bytes[second_line + 3] ^= 1;
    std::fs::write(&path, bytes).expect("writable");
    let (code, said) = sample_logs(&["gen", "axle-circuits", "--check", "--out", out]);
    assert_eq!(code, Some(1), "{said}");
    let place = format!("line 2, byte {}", second_line + 3);
    assert!(said.contains(&place), "{said}");
}

#[test]
fn a_scenario_of_ones_own_is_written_with_another_seed() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("mine.toml");
    std::fs::write(
        &path,
        "name = \"mine\"\nsummary = \"s\"\nseed = 1\nstart_unix_s = 1_777_000_000\n[[stage]]\nkind = \"parked\"\nhours = 1\n",
    )
    .expect("writable");
    let path = path.to_str().expect("text");
    let out = folder.path().join("out");
    let out_text = out.to_str().expect("text");
    assert_eq!(
        sample_logs(&["write", path, "--out", out_text, "--seed", "9"]).0,
        Some(0)
    );
    let truth = std::fs::read_to_string(out.join("truth.json")).expect("written");
    assert!(truth.contains("\"seed\": 9"), "{}", &truth[..300]);

    std::fs::write(path, "name = \"mine\"\nspeed = 1\n").expect("writable");
    let (code, said) = sample_logs(&["write", path, "--out", out_text]);
    assert_eq!(code, Some(2));
    assert!(
        said.contains("line 2") && said.contains("`speed`"),
        "{said}"
    );
}

#[test]
fn list_names_every_scenario() {
    let (code, said) = sample_logs(&["list"]);
    assert_eq!(code, Some(0));
    assert!(
        BUILTIN.iter().all(|known| said.contains(known.name)),
        "{said}"
    );
    let (code, said) = sample_logs(&["gen", "no-such"]);
    assert_eq!(code, Some(2));
    assert!(said.contains("known here: healthy-road-trip"), "{said}");
}
