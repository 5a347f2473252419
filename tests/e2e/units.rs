//! The units of `systemd/`: their exposure, and that they name what exists.

use super::{SEEP, SEEPD};
use seep_tests::{code, run};
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

/// Days in the invented log of a parked car.
const DAYS: i64 = 20;

/// Makes an invented log: one reading of the tank a minute, for [`DAYS`] days.
fn parked(folder: &Path) -> String {
    const RIG: &str = r#"
[vehicle]
name = "invented"
[tank]
volume_l = 12.0
[[circuit]]
name = "front_left"
volume_l = 5.0
[[source]]
name = "table"
kind = "csv"
time_column = "t"
time_format = "unix_s"
zone = "UTC"
delimiter = ","
[[channel]]
name = "tank_kpa_gauge"
source = "table"
column = "tank"
unit = "bar"
[[channel]]
name = "front_left_kpa_gauge"
source = "table"
column = "left"
unit = "bar"
"#;
    let mut table = String::from("t,tank,left\n");
    for minute in 0..DAYS * 1_440 {
        let bar = (minute % 7) as f64 * 0.001;
        let t = 1_767_225_600 + minute * 60;
        table += &format!("{t},{:.3},{:.3}\n", 9.0 + bar, 4.5 - bar);
    }
    let at = |file: &str| folder.join(file).display().to_string();
    let (rig, readings, log) = (at("rig.toml"), at("parked.csv"), at("trip.db"));
    std::fs::write(&rig, RIG).expect("written");
    std::fs::write(&readings, table).expect("written");
    let done = run(SEEPD, &["replay", "--rig", &rig, "--log", &log, &readings]);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    log
}

/// Overwrites the first four fifths of the pages that hold readings; returns how
/// many. **Source**: SQLite documentation, "The DBSTAT Virtual Table": `path`
/// sorts the pages of a table in the order of their rows.
fn destroy_early_readings(log: &str) -> usize {
    let db = rusqlite::Connection::open(log).expect("opens");
    let page: i64 = (db.query_row("PRAGMA page_size", [], |row| row.get(0))).expect("a size");
    let page = usize::try_from(page).expect("a size");
    let mut leaves: Vec<i64> = db
        .prepare(
            "SELECT pageno FROM dbstat WHERE name = 'tick' AND pagetype = 'leaf' ORDER BY path",
        )
        .and_then(|mut s| s.query_map([], |row| row.get(0))?.collect())
        .expect("the pages");
    drop(db);
    leaves.truncate(leaves.len() * 4 / 5);
    let mut bytes = std::fs::read(log).expect("read");
    for number in &leaves {
        let before = usize::try_from(number - 1).expect("a page");
        bytes[before * page..][..page].fill(0xff);
    }
    std::fs::write(log, bytes).expect("written");
    leaves.len()
}

/// The command of the nightly unit reads the readings of the last day and no
/// others: it judges a log whose earlier readings cannot be read at all.
#[test]
fn the_nightly_report_reads_the_last_day_only() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = parked(folder.path());
    let page = folder.path().join("latest.html");
    let text = std::fs::read_to_string(unit("seep-night.service")).expect("there");
    let command = text
        .lines()
        .find_map(|l| l.strip_prefix("ExecStart=/usr/bin/seep "))
        .expect("a command")
        .replace("/var/lib/seep/trip.db", &log)
        .replace(
            "/var/lib/seep/reports/latest.html",
            &page.display().to_string(),
        );
    let words: Vec<&str> = command.split(' ').collect();
    assert!(destroy_early_readings(&log) > 20);
    let whole = run(SEEP, &["trip", "--log", &log]);
    assert_ne!(code(&whole), 0, "the whole log was readable after all");
    let night = run(SEEP, &words);
    assert_eq!(
        code(&night),
        0,
        "{}",
        String::from_utf8_lossy(&night.stderr)
    );
    let html = std::fs::read_to_string(&page).expect("a page");
    assert!(html.contains("2026-01-20") && !html.contains("2026-01-18"));
}
