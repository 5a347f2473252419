//! `seep leaks --why PLACE` on sample cars whose fault is known (invented data).

use super::{SEEP, replayed};
use seep_tests::{code, run};
use serde_json::Value;

fn leaks(log: &str, more: &[&str]) -> (i32, String, String) {
    let mut args = vec!["leaks", "--log", log, "--zone", "UTC"];
    args.extend(more);
    let done = run(SEEP, &args);
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (code(&done), text(&done.stdout), text(&done.stderr))
}

/// Rows of the table `why`: observed, then the six parts.
fn rows(log: &str, place: &str) -> Vec<[f64; 7]> {
    let (code, out, err) = leaks(log, &["--why", place, "--format", "json"]);
    assert_eq!(code, 0, "{err}");
    let report: Value = serde_json::from_str(&out).expect("JSON");
    assert_eq!(report["sections"][0]["id"], "why");
    println!("{}", report["sections"][0]["lead"]);
    let rows = report["sections"][0]["tables"][0]["rows"].clone();
    let number = |row: &Value, i: usize| row[i + 1]["value"].as_f64().expect("a number");
    let rows = rows.as_array().expect("rows").clone();
    rows.iter()
        .map(|r| std::array::from_fn(|i| number(r, i)))
        .collect()
}

/// Each row of the table adds up, within the rounding of seven cells to a hundredth; the
/// leak is nearly all of a leaking corner's fall, and next to nothing of a sound one's.
#[test]
fn the_parts_of_a_night_add_up_to_what_was_observed() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    for (place, leaks) in [("rear_right", true), ("front_left", false)] {
        let rows = rows(&log, place);
        assert!(rows.len() >= 10, "{}", rows.len());
        for row in &rows {
            let sum: f64 = row[1..].iter().sum();
            assert!((sum - row[0]).abs() < 0.036, "{place}: {row:?}");
        }
        let end = rows[rows.len() - 1];
        println!("{place}: {end:?}");
        let share = (end[1] - end[0]).abs() / end[0].abs();
        assert_eq!(leaks, end[1] < -20.0 && share < 0.2, "{place}: {end:?}");
        if !leaks {
            assert!(end[1].abs() < 3.0, "{end:?}");
        }
    }
}

#[test]
fn it_is_drawn_in_characters_a_page_and_rows() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let why = ["--why", "rear_right"];
    let (code, text, err) = leaks(&log, &[&why[..], &["--plot"]].concat());
    assert_eq!(code, 0, "{err}");
    for words in ["Why rear right changed", "leak (mm)", "remainder (mm)"] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let (_, page, _) = leaks(&log, &[&why[..], &["--format", "html"]].concat());
    assert!(page.contains("why-parts"));
    let (_, csv, _) = leaks(&log, &[&why[..], &["--format", "csv"]].concat());
    assert!(csv.contains("settling"), "{csv}");
}

#[test]
fn a_place_that_is_not_there_says_which_are() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let (code, _, err) = leaks(&log, &["--why", "middle"]);
    assert_eq!(code, 2, "{err}");
    assert!(
        err.contains("`middle`") && err.contains("rear_right"),
        "{err}"
    );
}
