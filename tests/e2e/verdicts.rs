//! The verdict of each sample scenario names its true fault.

use super::{SEEP, replayed};
use seep_tests::{code, run, sample};
use serde_json::Value;

fn trip(log: &str) -> Value {
    let done = run(
        SEEP,
        &["trip", "--log", log, "--format", "json", "--zone", "UTC"],
    );
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).expect("JSON")
}

fn truth(name: &str) -> Value {
    let text = std::fs::read_to_string(sample(name).join("truth.json")).expect("truth");
    serde_json::from_str(&text).expect("JSON")
}

fn first_finding(name: &str) -> (String, String) {
    let folder = tempfile::tempdir().expect("scratch");
    let report = trip(&replayed(name, folder.path()));
    let finding = &report["findings"][0];
    let word = |key: &str| finding[key].as_str().unwrap_or("none").to_string();
    (word("kind"), word("place"))
}

#[test]
fn a_healthy_car_is_called_fine() {
    let folder = tempfile::tempdir().expect("scratch");
    let report = trip(&replayed("healthy-road-trip", folder.path()));
    assert_eq!(truth("healthy-road-trip")["fault"], "none");
    assert_eq!(report["verdict"]["severity"], "fine");
    assert_eq!(report["findings"].as_array().map(Vec::len), Some(0));
}

#[test]
fn each_fault_is_named_at_its_place() {
    for (name, kind) in [
        ("slow-leak-overnight", "corner_leak"),
        ("fill-valve-passing", "fill_valve_passing"),
        ("kinked-line", "line_restricted"),
        ("worn-compressor", "compressor_wear"),
    ] {
        let place = truth(name)["place"].as_str().expect("place").to_string();
        assert_eq!(first_finding(name), (kind.to_string(), place), "{name}");
    }
}

#[test]
fn the_leak_rate_agrees_with_the_truth_within_its_interval() {
    let folder = tempfile::tempdir().expect("scratch");
    let report = trip(&replayed("slow-leak-overnight", folder.path()));
    let evidence = report["findings"][0]["evidence"]
        .as_array()
        .expect("evidence");
    let flow = evidence
        .iter()
        .find(|e| e["value"]["unit"] == "cm³/min ANR");
    let measured = &flow.expect("a flow")["value"];
    let number = |key: &str| measured[key].as_f64().expect("a number");
    let fault = &truth("slow-leak-overnight")["faults"][0];
    let litres = fault["passed_anr_l"].as_f64().expect("litres");
    let hours = fault["open_h"].as_f64().expect("hours");
    let true_cm3_min = litres * 1000.0 / (hours * 60.0);
    assert!(
        number("low") <= true_cm3_min && true_cm3_min <= number("high"),
        "true {true_cm3_min}, measured {measured}"
    );
}

#[test]
fn the_same_log_gives_the_same_bytes() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    for format in ["text", "json", "csv", "html"] {
        let args = ["trip", "--log", &log, "--format", format, "--zone", "UTC"];
        let (one, two) = (run(SEEP, &args), run(SEEP, &args));
        assert_eq!(code(&one), 0);
        assert!(
            one.stdout == two.stdout && !one.stdout.is_empty(),
            "{format}"
        );
    }
}

#[test]
fn every_command_answers() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    for command in ["sessions", "leaks", "duty", "moves", "trip"] {
        let done = run(SEEP, &[command, "--log", &log, "--unit", "psi"]);
        assert_eq!(code(&done), 0, "{command}");
        assert!(!done.stdout.is_empty(), "{command}");
    }
    let done = run(SEEP, &["trip", "--log", &log, "--fail-on-finding"]);
    assert_eq!(code(&done), 1);
}

/// The ranking stands in `seep diagnose`, and the sentence on the first two
/// speaks of the first two.
#[test]
fn the_diagnosis_ranks_and_says_what_separates() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("fill-valve-passing", folder.path());
    let args = [
        "diagnose", "--log", &log, "--format", "json", "--zone", "UTC",
    ];
    let done = run(SEEP, &args);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    let report: Value = serde_json::from_slice(&done.stdout).expect("JSON");
    let finding = &report["findings"][0];
    assert_eq!(finding["kind"], "fill_valve_passing");
    let names: Vec<&str> = finding["candidates"]
        .as_array()
        .expect("candidates")
        .iter()
        .filter_map(|c| c["name"].as_str())
        .collect();
    assert_eq!(
        names[..2],
        [
            "fill valve passing at front left",
            "leak to outside at the tank"
        ]
    );
    let said = finding["would_separate"].as_str().expect("a sentence");
    assert!(said.contains("empty the tank overnight"), "{said}");
}

/// Sentences follow the unit asked for; JSON keeps the stored one; and every
/// line of every report fits 80 columns with each table in one piece.
#[test]
fn words_and_tables_follow_unit_and_width() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let first_line = |more: &[&str]| {
        let args = [&["trip", "--log", &log, "--zone", "UTC"][..], more].concat();
        let text = String::from_utf8(run(SEEP, &args).stdout).expect("text");
        text.replace(['\u{a0}', '\n'], " ")
    };
    assert!(first_line(&["--length", "in"])[..400].contains(" in within ten hours"));
    assert!(first_line(&["--length", "in", "--format", "json"]).contains(" mm within ten hours"));
    for command in [
        "trip", "leaks", "moves", "duty", "diagnose", "sessions", "verify",
    ] {
        let done = run(
            SEEP,
            &[command, "--log", &log, "--zone", "UTC", "--unit", "psi"],
        );
        let text = String::from_utf8(done.stdout).expect("text");
        let longest = text.lines().map(|l| l.chars().count()).max();
        assert!(longest <= Some(80), "{command}: {longest:?}");
        // A split table has a block after an empty line that starts with its key again.
        let split = text.lines().collect::<Vec<_>>().windows(2).any(|two| {
            two[0].is_empty() && (two[1].starts_with("  place  ") || two[1].starts_with("  path  "))
        });
        assert!(!split, "{command}:\n{text}");
    }
}

/// A report on one thing alone is no all-clear for the others: the kinked line is
/// no leak, and the leak below 6 °C is one.
#[test]
fn a_report_on_one_thing_says_when_there_is_more() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    let first = |command: &str, log: &str| {
        let done = run(
            SEEP,
            &[command, "--log", log, "--zone", "UTC", "--format", "json"],
        );
        let report: Value = serde_json::from_slice(&done.stdout).expect("JSON");
        let word = |key: &str| report["verdict"][key].as_str().expect("text").to_string();
        (word("severity"), word("sentence"))
    };
    let (severity, said) = first("leaks", &log);
    assert!(
        severity == "fine" && said.starts_with("No leak seen"),
        "{said}"
    );
    assert!(
        said.ends_with("Something else was found: see `seep trip`."),
        "{said}"
    );
    assert!(!said.contains("valves"), "{said}");
    assert_eq!(first("moves", &log).0, "act");

    let car = seep_sample_logs::scenario::builtin("cold-only-leak").expect("there");
    let made = folder.path().join("cold");
    seep_sample_logs::generate(&car)
        .write(&made)
        .expect("written");
    let at = |file: &str| made.join(file).display().to_string();
    let cold = at("trip.db");
    let (rig, bus, wire) = (at("rig.toml"), at("bus.candump.log"), at("box.nmea.log"));
    let args = ["replay", "--rig", &rig, "--log", &cold, &bus, &wire];
    assert_eq!(code(&run(super::SEEPD, &args)), 0);
    let (severity, said) = first("leaks", &cold);
    assert!(severity == "act" && said.contains("in the cold"), "{said}");
}
