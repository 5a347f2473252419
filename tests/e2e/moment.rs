//! `seep moment`, and spans that begin just before a valve opens.

use super::{SEEP, replayed};
use seep_tests::{code, run, run_as_typed};
use serde_json::Value;

fn json(args: &[&str]) -> Value {
    let done = run_as_typed(
        SEEP,
        &[args, &["--zone", "UTC", "--format", "json"]].concat(),
    );
    assert_eq!(
        code(&done),
        0,
        "{args:?}: {}",
        String::from_utf8_lossy(&done.stderr)
    );
    serde_json::from_slice(&done.stdout).expect("JSON")
}

fn table<'a>(report: &'a Value, id: &str) -> &'a Vec<Value> {
    let sections = report["sections"].as_array().expect("sections");
    let tables = sections
        .iter()
        .flat_map(|s| s["tables"].as_array().expect("tables"));
    let found = tables.into_iter().find(|t| t["id"] == id);
    found.expect(id)["rows"].as_array().expect("rows")
}

/// The car is raised at 13:08, before which a span may begin at any minute.
#[test]
fn a_span_keeps_the_moves_of_its_first_openings() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let of = |from: &str| {
        let to = "2026-10-17 13:20";
        let report = json(&["moves", "--log", &log, "--from", from, "--to", to]);
        let rows = table(&report, "move-list").iter();
        rows.map(|r| r[1]["text"].as_str().expect("a path").to_string())
            .collect::<Vec<_>>()
    };
    let whole = of("2026-10-17 12:56");
    assert_eq!(whole.len(), 4, "{whole:?}");
    assert_eq!(of("2026-10-17 13:00"), whole);
    assert_eq!(of("2026-10-17 13:07"), whole);
}

#[test]
fn a_moment_shows_its_openings_readings_and_traces() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let at = [
        "moment",
        "--log",
        &log,
        "--at",
        "2026-10-17 13:08",
        "--minutes",
        "2",
    ];
    let report = json(&at);
    let events = table(&report, "events");
    let fills = events.iter().filter(|r| r[1]["text"] == "fill on").count();
    assert_eq!(fills, 4, "{events:?}");
    let readings = table(&report, "readings").len();
    let span = ["--from", "2026-10-17 13:06", "--to", "2026-10-17 13:10"];
    let rows = run(
        SEEP,
        &[&["export", "--log", &log, "--zone", "UTC"][..], &span].concat(),
    );
    let exported = String::from_utf8_lossy(&rows.stdout).lines().count() - 1;
    assert_eq!(readings, exported, "as many as `seep export` has");
    assert_eq!(report["sections"][0]["plots"][0]["type"], "time");
    let text = run_as_typed(SEEP, &at);
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    assert!(text.contains("fill on"), "{text}");
}

#[test]
fn a_finding_has_its_moment() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    let report = json(&["moment", "--log", &log, "--finding", "1"]);
    let events = table(&report, "events");
    assert!(
        events.iter().any(|r| r[2]["text"] == "front right"),
        "{events:?}"
    );
    let none = run_as_typed(SEEP, &["moment", "--log", &log, "--finding", "9"]);
    assert_ne!(code(&none), 0);
    let said = String::from_utf8_lossy(&none.stderr).into_owned();
    assert!(said.contains("no finding 9"), "{said}");
}

/// A mark or a name decides the form; a file that is there is not written over.
#[test]
fn rows_for_a_spreadsheet() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    let out = folder.path().join("rows.jsonl").display().to_string();
    let export =
        |more: &[&str]| run_as_typed(SEEP, &[&["export", "--log", &log][..], more].concat());
    assert_eq!(code(&export(&["--out", &out])), 0);
    let rows = std::fs::read_to_string(&out).expect("written");
    assert!(rows.starts_with('{'), "JSON lines by the name");
    assert_eq!(code(&export(&["--out", &out])), 73, "it is there already");
    assert_eq!(code(&export(&["--out", &out, "--replace"])), 0);
    let done = export(&[
        "--spreadsheet",
        "--filled",
        "--unit",
        "psi",
        "--zone",
        "Asia/Tokyo",
    ]);
    let text = String::from_utf8_lossy(&done.stdout).into_owned();
    let head = text.lines().next().expect("headings");
    assert!(
        head.contains("local_time") && head.contains("tank_psi_gauge"),
        "{head}"
    );
    let page = folder.path().join("trip.html").display().to_string();
    let done = run_as_typed(SEEP, &["trip", "--log", &log, "--out", &page]);
    assert_eq!(code(&done), 0);
    let page = std::fs::read_to_string(&page).expect("written");
    assert!(page.starts_with("<!DOCTYPE html>"));
}
