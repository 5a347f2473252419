//! A note parts a log into before and after.

use super::{SEEP, SEEPD, replayed};
use seep_tests::{code, run_as_typed};
use serde_json::Value;

fn text(args: &[&str]) -> String {
    let done = run_as_typed(SEEP, args);
    assert_eq!(
        code(&done),
        0,
        "{args:?}: {}",
        String::from_utf8_lossy(&done.stderr)
    );
    String::from_utf8_lossy(&done.stdout).into_owned()
}

#[test]
fn a_note_is_drawn_and_compared_before_and_after() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let none = run_as_typed(SEEP, &["trip", "--log", &log, "--last", "note"]);
    assert_eq!(code(&none), 2);
    assert!(String::from_utf8_lossy(&none.stderr).contains("seepd note"));
    let words = "fitting replaced, rear right";
    let note = ["note", "--log", &log, words, "--at", "2026-10-17 12:00Z"];
    let done = run_as_typed(SEEPD, &note);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    let page = text(&["trip", "--log", &log, "--zone", "UTC", "--format", "html"]);
    assert!(
        page.contains(&format!("Note 1: {words}.")),
        "the page tells it"
    );
    assert!(page.contains("class=\"note\""), "the page draws it");
    let since = ["trip", "--log", &log, "--zone", "UTC", "--last", "note"];
    let after = text(&[&since[..], &["--format", "json"]].concat());
    let after: Value = serde_json::from_str(&after).expect("JSON");
    let from = after["made_from"]["from"]["at"].as_str().expect("a time");
    assert!(from.starts_with("2026-10-17T12:00"), "{from}");
    let both = text(&[&since[..], &["--against", "before", "--full"]].concat());
    assert!(both.contains("2026-10-17 12:00"), "{both}");
    // A car is as it was left: what came before the note does not count.
    let cars = text(&["cars", &log, "--zone", "UTC", "--format", "json"]);
    let cars: Value = serde_json::from_str(&cars).expect("JSON");
    let from = cars["made_from"]["from"]["at"].as_str().expect("a time");
    assert!(from.starts_with("2026-10-17T12:00"), "{from}");
}

#[test]
fn two_logs_stand_side_by_side() {
    let folder = tempfile::tempdir().expect("scratch");
    let made = |name: &str| {
        let own = folder.path().join(name);
        std::fs::create_dir_all(&own).expect("made");
        replayed(name, &own)
    };
    let (sound, leaks) = (made("healthy-road-trip"), made("slow-leak-overnight"));
    let both = text(&["compare", &sound, &leaks, "--zone", "UTC", "--full"]);
    assert!(both.contains("Against the other car"), "{both}");
    assert!(both.contains("rear right falls 5"), "{both}");
    assert!(both.contains("no fault by itself"), "{both}");
    let same = text(&["compare", &leaks, &leaks, "--zone", "UTC"]);
    assert!(same.contains("the other log none of"), "{same}");
    let gone = run_as_typed(SEEP, &["compare", &leaks, "/none/such.db"]);
    assert_eq!(code(&gone), 66);
}

/// GNU tar, which nobody here wrote, lists and reads the bundle.
#[test]
fn a_case_goes_into_one_file() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    let out = folder.path().join("case.tar").display().to_string();
    let args = ["bundle", "--log", &log, "--zone", "UTC", "--out", &out];
    assert_eq!(code(&run_as_typed(SEEP, &args)), 0);
    assert_eq!(code(&run_as_typed(SEEP, &args)), 73, "it is there already");
    let again = folder.path().join("again.tar").display().to_string();
    let args = ["bundle", "--log", &log, "--zone", "UTC", "--out", &again];
    assert_eq!(code(&run_as_typed(SEEP, &args)), 0);
    let read = |path: &str| std::fs::read(path).expect("written");
    assert!(read(&out) == read(&again), "the same log, the same bytes");
    let unpacked = std::process::Command::new("tar")
        .args(["-xf", &out, "-C"])
        .arg(folder.path())
        .output()
        .expect("tar runs");
    assert!(unpacked.status.success());
    let there = |name: &str| std::fs::read_to_string(folder.path().join(name)).expect(name);
    let rig = seep_tests::sample("kinked-line").join("rig.toml");
    assert_eq!(
        there("rig.toml"),
        std::fs::read_to_string(rig).expect("read")
    );
    assert!(there("report.html").starts_with("<!DOCTYPE html>"));
    assert!(there("report.txt").contains("Data health"));
    assert!(
        there("finding-1.csv").contains("front right"),
        "the window behind it"
    );
    let told = there("READ-ME.txt");
    assert!(
        told.contains("finding-1.csv") && told.contains("rated stands"),
        "{told}"
    );
    let report: Value = serde_json::from_str(&there("report.json")).expect("JSON");
    assert_eq!(report["findings"][0]["kind"], "line_restricted");
}
