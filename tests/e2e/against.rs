//! `--against`: two spans of one log beside each other.

use super::{SEEP, SEEPD, replayed};
use seep_sample_logs::files::{BOX, BUS, RIG};
use seep_sample_logs::generate;
use seep_sample_logs::scenario::{Fault, FaultKind, builtin};
use seep_tests::{code, run};
use serde_json::Value;

fn compared(log: &str, more: &[&str]) -> Value {
    let args = [
        &["trip", "--log", log, "--zone", "UTC", "--format", "json"][..],
        more,
    ]
    .concat();
    let done = run(SEEP, &args);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).expect("JSON")
}

/// Rows of the comparison: what, difference low and high, beyond chance.
fn rows(report: &Value) -> Vec<(String, f64, f64, String)> {
    let section = &report["sections"][0];
    assert_eq!(section["id"], "against");
    let tables = section["tables"].as_array().expect("tables");
    tables
        .iter()
        .flat_map(|t| t["rows"].as_array().cloned().unwrap_or_default())
        .map(|r| {
            let end = |key: &str| r[1][key].as_f64().expect("an interval");
            let word = |i: usize| r[i]["text"].as_str().expect("text").to_string();
            (word(0), end("low"), end("high"), word(2))
        })
        .collect()
}

/// The line of the front right corner kinks during the log: its two paths are
/// worse in the second half, and nothing else is.
#[test]
fn what_changed_is_named_with_its_interval_and_nothing_else() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("kinked-line", folder.path());
    let report = compared(&log, &["--last", "day", "--against", "before"]);
    let all = rows(&report);
    let changed: Vec<_> = all.iter().filter(|r| r.3 != "no").collect();
    let own = |r: &(String, f64, f64, String)| r.0.starts_with("front right ");
    assert!(changed.iter().all(|r| own(r)), "{changed:?}");
    let fill = changed.iter().find(|r| r.0 == "front right fill");
    let fill = fill.unwrap_or_else(|| panic!("the fill is named: {all:?}"));
    assert!(fill.3 == "yes, worse" && fill.2 < -20.0, "{fill:?}");
    // Of fewer drives, whose line narrows from one to the next, the dump is only seen to
    // have fallen; all quantities taken together that may still be chance.
    let dump = all.iter().find(|r| r.0 == "front right dump");
    assert!(dump.is_some_and(|r| r.2 < 0.0), "{dump:?}");
    let said = report["verdict"]["sentence"].as_str().expect("words");
    assert!(
        said.contains("Against the other span front right fill passes"),
        "{said}"
    );
}

/// A steady leak is no change, however large.
#[test]
fn a_steady_leak_has_not_changed() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let report = compared(&log, &["--last", "day", "--against", "before"]);
    let rows = rows(&report);
    assert!(
        rows.len() >= 5 && rows.iter().all(|r| r.3 == "no"),
        "{rows:?}"
    );
}

#[test]
fn the_same_span_twice_is_no_difference_and_nonsense_is_told() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let report = compared(&log, &["--against", "2026-10-01..2026-11-01"]);
    assert!(
        rows(&report)
            .iter()
            .all(|r| r.1 <= 0.0 && r.2 >= 0.0 && r.3 == "no")
    );
    for words in ["yesterday", "2026-13-45..", "session 77", "week before"] {
        let done = run(SEEP, &["trip", "--log", &log, "--against", words]);
        assert_eq!(code(&done), 2, "{words}");
    }
}

/// The same invented car three days before and three days after its repair: a
/// leaking corner and a worn compressor are gone, and only they have changed.
#[test]
fn a_repair_is_seen_where_it_was_made() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = folder.path().join("trip.db").display().to_string();
    let mut car = builtin("worn-compressor").expect("comes with the project");
    car.faults.clear();
    car.faults
        .push(Fault::leak(FaultKind::CornerLeak, "rear_left", 6.0));
    car.faults.push(Fault::leaving(
        FaultKind::CompressorWorn,
        "compressor_1",
        0.5,
    ));
    for (visit, more) in [("before", None), ("after", Some("--append"))] {
        let made = folder.path().join(visit);
        generate(&car).write(&made).expect("written");
        let at = |file: &str| made.join(file).display().to_string();
        let (rig, bus, wire) = (at(RIG), at(BUS), at(BOX));
        let mut args = vec!["replay", "--rig", &rig, "--log", &log];
        args.extend(more);
        args.extend([bus.as_str(), wire.as_str()]);
        let done = run(SEEPD, &args);
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
        car.faults.clear();
        car.start_unix_s += 5 * 86_400;
    }
    let report = compared(
        &log,
        &[
            "--from",
            "2026-05-13",
            "--against",
            "2026-05-08..2026-05-12",
        ],
    );
    let rows = rows(&report);
    let of = |what: &str| rows.iter().filter(|r| r.0 == what).collect::<Vec<_>>();
    // About 5 cm³/min at the corner's own pressure, about 10 L/min of delivery.
    let loss = of("rear left")[0];
    assert!(loss.3 == "yes, better" && loss.2 < -3.0, "{rows:?}");
    let delivery = (of("compressor 1").into_iter()).find(|r| r.1 > 3.0);
    assert_eq!(delivery.expect("more").3, "yes, better", "{rows:?}");
    assert!(rows.iter().all(|r| r.3 != "yes, worse"), "{rows:?}");
    let said = report["verdict"]["sentence"].as_str().expect("words");
    assert!(said.contains("beyond chance"), "{said}");
    let better: Vec<_> = rows.iter().filter(|r| r.3 == "yes, better").collect();
    assert_eq!(better.len(), 2, "nothing else has changed: {better:?}");
}
