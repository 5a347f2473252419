//! How much a compressor runs.

use super::bench::{Rows, rows, value};
use super::pump::{Cycle, Seen, recorded};

const RIG: &str = "[tank]\nvolume_l = 20.0\n[[compressor]]\nname = \"compressor_1\"\n\
    rated_duty_percent = 33.0\n";

/// A switch every second over some stretches of seconds, on in others.
fn switched(known: &[(i32, i32)], on: &[(i32, i32)]) -> Rows {
    let mut out = Rows::new(&["tank_kpa_gauge", "compressor_1_on"]);
    for t in known.iter().flat_map(|k| k.0..=k.1) {
        let runs = on.iter().any(|o| (o.0..o.1).contains(&t));
        out.put(f64::from(t), "compressor_1_on", f64::from(u8::from(runs)));
        out.put(f64::from(t), "tank_kpa_gauge", 900.0);
    }
    out
}

fn worst_ten_minutes(known: &[(i32, i32)], on: &[(i32, i32)]) -> f64 {
    let report = switched(known, on).recorded(RIG).report("duty", &[]);
    rows(&report, "duty-compressor_1")[0][2]["value"]
        .as_f64()
        .unwrap_or_else(|| panic!("no duty: {report}"))
}

/// **Source**: IEC 60034-1, duty type S3: duty is the time under load over the
/// time of the cycle, here over known time of at least 80 % of ten minutes. By
/// hand: 100 s of running in 480 known seconds are 20.83 %, in 600 16.67 %.
#[test]
fn the_worst_window_beside_a_gap_is_exact() {
    // A run in the middle of twenty known minutes, then hours of silence: no window
    // with a known end leaves out more than a fifth.
    let middle = worst_ten_minutes(&[(0, 490)], &[(380, 480)]);
    // The run ends ten seconds before the known time does: the window that holds it all
    // and as little else as may be is known for 480 s of its 600.
    assert!((middle - 20.8).abs() < 0.11, "{middle}");
    let before = worst_ten_minutes(&[(0, 1500)], &[(1380, 1480)]);
    assert!((before - 20.8).abs() < 0.11, "{before}");
    let behind = worst_ten_minutes(&[(0, 10), (4000, 5500)], &[(4020, 4120)]);
    assert!((behind - 20.8).abs() < 0.11, "{behind}");
    // Far from any gap all ten minutes count.
    let whole = worst_ten_minutes(&[(0, 3600)], &[(1800, 1900)]);
    assert!((whole - 16.7).abs() < 0.11, "{whole}");
}

/// Twelve seconds prove nothing, nor do five minutes of a ten-minute rating.
#[test]
fn twelve_seconds_are_too_little_to_tell() {
    for seconds in [12, 300] {
        let log = switched(&[(0, seconds)], &[(2, 4)]).recorded(RIG);
        for command in ["duty", "trip"] {
            let report = log.report(command, &[]);
            assert_eq!(
                report["verdict"]["severity"], "unknown",
                "{command}: {report}"
            );
        }
        let report = log.report("duty", &[]);
        let said = report["verdict"]["sentence"].as_str().expect("words");
        assert!(said.starts_with("Too little to tell"), "{said}");
    }
    let report = switched(&[(0, 600)], &[(2, 40)])
        .recorded(RIG)
        .report("duty", &[]);
    assert_eq!(
        report["verdict"]["severity"], "fine",
        "{}",
        report["verdict"]
    );
}

/// Without a wire nothing is known of its time: missing, not nought.
#[test]
fn runs_without_a_wire_stay_missing() {
    let cycles: Vec<Cycle> = (0..5).map(|i| Cycle::every_hours(5.0, i)).collect();
    let seen = Seen {
        wired: false,
        ..Seen::ALL
    };
    let report = recorded(&cycles, seen).report("duty", &[]);
    let table = rows(&report, "runs-compressor_1");
    for row in ["runs", "starts per hour", "time running", "longest run"] {
        let cell = value(table, row);
        assert_eq!(cell["type"], "missing", "{row}: {cell}");
    }
}
