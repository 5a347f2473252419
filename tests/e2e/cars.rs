//! `seep cars`: the five sample cars in one folder, with files that are no logs.

use super::{SEEP, replayed};
use seep_tests::{SCENARIOS, code, run};
use serde_json::Value;
use std::path::Path;
use std::process::Output;

/// Five cars (one in a folder of its own), an older log of one of them, a cut
/// file, a foreign database, and a bill.
fn customers(top: &Path) -> String {
    let folder = top.join("customers");
    let apart = folder.join("apart");
    std::fs::create_dir_all(&apart).expect("made");
    for name in SCENARIOS {
        let made = top.join(name);
        std::fs::create_dir_all(&made).expect("made");
        let log = replayed(name, &made);
        let to = match name {
            "kinked-line" => apart.join("kinked.db"),
            _ => folder.join(format!("{name}.db")),
        };
        std::fs::rename(log, to).expect("moved");
    }
    let whole = std::fs::read(folder.join("slow-leak-overnight.db")).expect("read");
    std::fs::write(folder.join("cut.db"), &whole[..whole.len() / 3]).expect("written");
    std::fs::write(folder.join("words.db"), "hello").expect("written");
    std::fs::write(folder.join("bill.txt"), "42").expect("written");
    folder.display().to_string()
}

fn asked(folder: &str, more: &[&str]) -> Output {
    run(
        SEEP,
        &[&["cars", folder, "--zone", "UTC"][..], more].concat(),
    )
}

fn out(done: &Output) -> String {
    String::from_utf8_lossy(&done.stdout).into_owned()
}

fn table<'a>(report: &'a Value, id: &str) -> &'a Vec<Value> {
    let sections = report["sections"].as_array().expect("sections");
    sections
        .iter()
        .flat_map(|s| s["tables"].as_array().expect("tables"))
        .find(|t| t["id"] == id)
        .unwrap_or_else(|| panic!("no table {id}"))["rows"]
        .as_array()
        .expect("rows")
}

fn words(rows: &[Value], column: usize) -> Vec<&str> {
    rows.iter()
        .map(|r| r[column]["text"].as_str().expect("text"))
        .collect()
}

#[test]
fn the_most_urgent_car_comes_first_and_broken_files_stop_nothing() {
    let top = tempfile::tempdir().expect("scratch");
    let folder = customers(top.path());
    let done = asked(&folder, &["--format", "json"]);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    let report: Value = serde_json::from_slice(&done.stdout).expect("JSON");
    let cars = table(&report, "cars");
    assert_eq!(words(cars, 1), ["act", "act", "act", "act", "fine"]);
    // Five hours are left to the coupe's height limit.
    assert_eq!(cars[0][0]["text"], "Blue coupe (invented)");
    assert_eq!(cars[0][2]["text"], "corner leak, rear right");
    let five_hours = [
        "mm/h; a limit in 4\u{a0}h\u{a0}5",
        "mm/h; a limit in 5\u{a0}h",
    ];
    let says = |text: &&str| words(cars, 3)[0].contains(text);
    assert!(five_hours.iter().any(says), "{cars:?}");
    assert_eq!(words(cars, 4)[0], "2026-10-18");
    assert_eq!(words(cars, 2)[4], "no fault seen");
    let faults = [
        "fill valve passing, front left",
        "compressor wear, compressor 1",
        "line restricted, front right",
    ];
    assert!(
        faults.iter().all(|f| words(cars, 2).contains(f)),
        "{cars:?}"
    );
    let unread = table(&report, "not-read");
    assert_eq!(words(unread, 0), ["customers/cut.db", "customers/words.db"]);
    assert!(words(unread, 1)[0].contains("seep verify"), "{unread:?}");
    assert!(words(unread, 1)[1].contains("not a seep log"), "{unread:?}");
    let said = report["verdict"]["sentence"].as_str().expect("words");
    assert!(
        said.starts_with(
            "4 of 5 cars to act on, 0 to watch. First Blue coupe (invented): The rear right corner"
        ),
        "{said}"
    );
    assert!(said.ends_with("2 logs could not be read."), "{said}");
    let findings = report["findings"].as_array().expect("findings");
    assert_eq!(findings.len(), 4);
    assert!(findings.iter().all(|f| !f["next_check"].is_null()));
    assert_eq!(code(&asked(&folder, &["--fail-on-finding"])), 1);
}

/// The order of work and the number of threads leave no trace, and every form
/// tells the same cars.
#[test]
fn the_ranking_does_not_depend_on_the_threads() {
    let top = tempfile::tempdir().expect("scratch");
    let folder = customers(top.path());
    for format in ["text", "html", "json", "csv"] {
        let one = asked(&folder, &["--format", format, "--jobs", "1"]);
        let many = asked(&folder, &["--format", format, "--jobs", "7"]);
        assert_eq!(code(&one), 0);
        assert_eq!(out(&one), out(&many), "{format}");
        assert!(out(&one).contains("Blue coupe"), "{format}");
        assert!(
            !out(&one).contains(&top.path().display().to_string()),
            "{format}: no path of this machine"
        );
    }
    let text = out(&asked(&folder, &[]));
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    let cars = text.find("One line per car").expect("the table");
    let evidence = text.find("\nEvidence\n").expect("the evidence");
    assert!(cars < evidence, "the ranking stands before the evidence");
}

#[test]
fn the_newest_log_stands_for_its_car() {
    let top = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", top.path());
    let folder = top.path().join("visits");
    std::fs::create_dir(&folder).expect("made");
    std::fs::copy(&log, folder.join("autumn.db")).expect("copied");
    std::fs::copy(&log, folder.join("earlier.db")).expect("copied");
    let done = asked(&folder.display().to_string(), &["--format", "json"]);
    let report: Value = serde_json::from_slice(&done.stdout).expect("JSON");
    assert_eq!(table(&report, "cars").len(), 1);
    assert_eq!(table(&report, "older").len(), 1);
}

#[test]
fn a_folder_without_logs_is_told() {
    let top = tempfile::tempdir().expect("scratch");
    let folder = top.path().display().to_string();
    let done = asked(&folder, &[]);
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(code(&done) == 66 && said.contains("no log in it"), "{said}");
    assert_eq!(code(&asked("/none/at/all", &[])), 66);
    std::fs::write(top.path().join("words.db"), "hello").expect("written");
    let done = asked(&folder, &[]);
    assert_eq!(code(&done), 65, "nothing could be judged");
    assert!(
        out(&done).contains("No car could be judged"),
        "{}",
        out(&done)
    );
}
