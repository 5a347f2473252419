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
    assert!(both.contains("rear right loses"), "{both}");
    assert!(both.contains("no fault by itself"), "{both}");
    let same = text(&["compare", &leaks, &leaks, "--zone", "UTC"]);
    assert!(same.contains("the other log none of"), "{same}");
    let gone = run_as_typed(SEEP, &["compare", &leaks, "/none/such.db"]);
    assert_eq!(code(&gone), 66);
}
