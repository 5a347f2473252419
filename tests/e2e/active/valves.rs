//! Valves that answer late or stick, on the lift bench: all data invented.

use super::bench::{Log, rows};
use seep_tests::lift_bench::{Bench, Recorded, lifted};
use serde_json::Value;

fn bench(seed: u64, heights: bool, raster_s: f64) -> Bench {
    let recorded = Recorded {
        wired: true,
        heights,
        raster_s,
    };
    Bench {
        longest_s: 10.0,
        moves: 12,
        ..Bench::drawn(seed, recorded)
    }
}

fn told(bench: &Bench) -> (Value, std::collections::BTreeMap<String, usize>) {
    let car = lifted(bench);
    let report = Log::recorded(&car.rig, &car.csv).report("moves", &[]);
    (report, car.truth.stuck)
}

fn sticking(report: &Value) -> Vec<(String, String)> {
    let findings = report["findings"].as_array().expect("findings");
    let own = findings.iter().filter(|f| f["kind"] == "valve_sticking");
    let word = |f: &Value, key: &str| f[key].as_str().unwrap_or_default().to_string();
    own.map(|f| (word(f, "place"), word(f, "sentence")))
        .collect()
}

/// Every third or fourth opening of one valve does nothing for 0.6 to 1.2 s.
#[test]
fn a_valve_that_sticks_is_named_and_its_openings_are_counted() {
    for (seed, heights, raster_s, path, for_s) in [
        (301, true, 0.02, 0, 0.7),
        (302, true, 0.1, 1, 0.9),
        (303, true, 0.1, 0, 1.2),
        (304, false, 0.1, 1, 1.2),
    ] {
        let mut car = bench(seed, heights, raster_s);
        car.corners[1].sticks[path] = Some((3, for_s));
        let (report, stuck) = told(&car);
        let found = sticking(&report);
        println!("{seed}: {found:?}, truly {stuck:?}");
        assert_eq!(found.len(), 1, "{seed}: {found:?}");
        assert_eq!(found[0].0, "rear_right");
        let word = ["fill", "dump"][path];
        assert!(
            found[0].1.contains(&format!("The {word} valve")),
            "{found:?}"
        );
    }
}

#[test]
fn sound_valves_do_not_stick() {
    for (seed, heights, raster_s) in [(311, true, 0.02), (312, true, 0.1), (313, false, 0.1)] {
        let (report, _) = told(&bench(seed, heights, raster_s));
        assert_eq!(sticking(&report), [], "{seed}");
        let seen = rows(&report, "sticking").iter();
        let of: f64 = seen.filter_map(|r| r[2]["value"].as_f64()).sum();
        assert!(
            of > 20.0,
            "{seed}: the power of it: {of} openings looked at"
        );
    }
}
