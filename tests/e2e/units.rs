//! The units of `systemd/`: their exposure, and that they name what exists.

use super::{SEEP, SEEPD};
use seep_tests::run;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Exposure allowed by our own rule, on the scale of `systemd-analyze security`.
const MOST_EXPOSED: f64 = 1.5;

fn unit(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../systemd")
        .join(name)
}

#[test]
fn the_units_are_as_closed_as_promised() {
    for name in ["seepd.service", "seep-night.service"] {
        let asked = Command::new("systemd-analyze")
            .args(["security", "--offline=true"])
            .arg(unit(name))
            .output();
        let Ok(asked) = asked else {
            println!(
                "SKIPPED: systemd-analyze is not installed; the exposure of {name} was not looked at"
            );
            return;
        };
        let text = String::from_utf8_lossy(&asked.stdout).into_owned();
        let level = text
            .lines()
            .find(|l| l.contains("Overall exposure level"))
            .and_then(|l| l.split(": ").nth(1))
            .and_then(|l| l.split(' ').next())
            .and_then(|l| l.parse::<f64>().ok());
        let Some(level) = level else {
            println!(
                "SKIPPED: this systemd-analyze rates no unit files; the exposure of {name} was not looked at"
            );
            return;
        };
        println!("{name}: {level}");
        assert!(level <= MOST_EXPOSED, "{name}: {text}");
    }
}

#[test]
fn the_units_call_commands_and_options_that_exist() {
    for (name, program) in [("seepd.service", SEEPD), ("seep-night.service", SEEP)] {
        let text = std::fs::read_to_string(unit(name)).expect("there");
        let line = text
            .lines()
            .find_map(|l| l.strip_prefix("ExecStart="))
            .expect("a command");
        let words: Vec<&str> = line.split(' ').collect();
        // What runs every night must not grow with the age of the log.
        assert!(
            name != "seep-night.service" || words.contains(&"--last"),
            "{line}"
        );
        let help = run(program, &[words[1], "--help"]);
        let help = String::from_utf8_lossy(&help.stdout).into_owned();
        for option in words.iter().filter(|w| w.starts_with("--")) {
            assert!(help.contains(option), "{name}: {option} is unknown");
        }
    }
}
