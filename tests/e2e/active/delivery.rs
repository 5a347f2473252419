//! What a compressor delivers, high and low, warm and cold.

use super::bench::{finds, rows, value};
use super::pump::{Cycle, Seen, recorded};

/// **Source**: US Standard Atmosphere 1976, table of pressure by geopotential
/// height: 101.325 kPa at 0 m, 92.077 kPa at 800 m (interpolated between the
/// rows of 500 and 1,000 m), 84.556 kPa at 1,500 m.
const UPHILL_KPA: [f64; 3] = [101.325, 92.077, 84.556];

fn uphill(i: usize, n: usize) -> Cycle {
    Cycle {
        outside_kpa: UPHILL_KPA[3 * i / n],
        ..Cycle::every_hours(5.0, i)
    }
}

fn cycles(n: usize, change: impl Fn(usize) -> Cycle) -> Vec<Cycle> {
    (0..n).map(change).collect()
}

/// Thin air weighs less: the same stroke delivers less, and nothing is worn.
#[test]
fn fifteen_hundred_metres_are_no_wear() {
    for barometer in [true, false] {
        for n in [6, 12, 24] {
            let seen = Seen {
                barometer,
                ..Seen::ALL
            };
            let log = recorded(&cycles(n, |i| uphill(i, n)), seen);
            let report = log.report("duty", &[]);
            assert!(
                !finds(&report, "compressor_wear"),
                "{n} runs, barometer {barometer}: {}",
                report["findings"]
            );
            let change = value(rows(&report, "runs-compressor_1"), "change of delivery");
            println!("{n} runs, barometer {barometer}: {change}");
            assert!(
                change["low"].as_f64() < Some(0.0) && change["high"].as_f64() > Some(0.0),
                "{n} runs, barometer {barometer}: {change}"
            );
        }
    }
}

/// Cold air weighs more: 30 K make a tenth.
#[test]
fn a_winter_week_is_no_wear() {
    let warmer = |i: usize| Cycle {
        outside_c: if i < 6 { -10.0 } else { 25.0 },
        ..Cycle::every_hours(5.0, i)
    };
    let report = recorded(&cycles(12, warmer), Seen::ALL).report("duty", &[]);
    assert!(!finds(&report, "compressor_wear"), "{}", report["findings"]);
}

/// The power of it: a third less is found, at home and on the mountain.
#[test]
fn a_third_less_is_wear_at_any_height() {
    let worn = |c: Cycle, i: usize| Cycle {
        left: if i < 8 { 1.0 } else { 0.67 },
        ..c
    };
    let home = cycles(12, |i| worn(Cycle::every_hours(5.0, i), i));
    let report = recorded(&home, Seen::ALL).report("duty", &[]);
    assert!(finds(&report, "compressor_wear"), "{}", report["findings"]);
    let up = cycles(12, |i| worn(uphill(i, 12), i));
    let report = recorded(&up, Seen::ALL).report("duty", &[]);
    assert!(finds(&report, "compressor_wear"), "{}", report["findings"]);
    let change = value(rows(&report, "runs-compressor_1"), "change of delivery");
    println!("{change}");
    assert!(
        change["low"].as_f64() < Some(-33.0) && change["high"].as_f64() > Some(-33.0),
        "{change}"
    );
}

/// Three runs tell nothing of wear; how many would is told instead.
#[test]
fn too_few_runs_say_how_many_would_do() {
    let report =
        recorded(&cycles(3, |i| Cycle::every_hours(5.0, i)), Seen::ALL).report("duty", &[]);
    let cell = value(
        rows(&report, "runs-compressor_1"),
        "smallest detectable loss",
    );
    let said = cell.to_string();
    assert!(
        said.contains("too few runs to tell; 25 % would show after"),
        "{said}"
    );
}
