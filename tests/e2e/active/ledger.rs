//! The air ledger on the lift bench, whose air shares no code with the report: all data
//! invented.

use super::bench::{Log, finds, rows};
use seep_tests::lift_bench::{Bench, Lifted, Recorded, lifted};
use serde_json::Value;

const RECORDED: Recorded = Recorded {
    wired: true,
    heights: true,
    raster_s: 0.1,
};

/// A car that stands for most of half an hour between moves; its corners and its tank
/// leak so much, L/(s·bar).
fn car(seed: u64, leaks: [f64; 3]) -> Bench {
    Bench {
        moves: 5,
        round_s: 3_000.0,
        leaks: leaks.to_vec(),
        ..Bench::drawn(seed, RECORDED)
    }
}

fn told(car: &Lifted) -> Value {
    Log::recorded(&car.rig, &car.csv).report("duty", &[])
}

/// The last cell of a volume's row: low and high.
fn interval(row: &Value, column: usize) -> (f64, f64) {
    let end = |key: &str| row[column][key].as_f64().expect("an interval");
    (end("low"), end("high"))
}

fn row<'a>(report: &'a Value, volume: &str) -> &'a Value {
    let mut own = rows(report, "ledger").iter();
    own.find(|r| r[0]["text"] == volume).expect("its row")
}

/// Sound cars and leaking ones: what is left over holds zero, and what was delivered
/// and leaked holds the truth.
#[test]
fn the_books_close() {
    let (mut held, mut all) = (0, 0);
    for (seed, leaks) in [
        (202, [0.0; 3]),
        (203, [1e-4, 0.0, 0.0]),
        (204, [0.0, 1e-4, 0.0]),
    ] {
        let car = lifted(&car(seed, leaks));
        let report = told(&car);
        for volume in ["front left", "rear right", "tank"] {
            let (low, high) = interval(row(&report, volume), 5);
            println!("{seed} {volume}: unexplained {low:.2} to {high:.2}");
            held += usize::from(low <= 0.0 && 0.0 <= high);
            all += 1;
        }
        let (low, high) = interval(row(&report, "tank"), 2);
        println!(
            "{seed}: delivered {low:.1} to {high:.1}, truly {:.1}",
            car.truth.delivered_l
        );
        assert!(high - low < 0.6 * high, "tells something");
        assert!(!finds(&report, "unexplained_air"), "{}", report["findings"]);
    }
    assert!(held + 1 >= all, "{held} of {all}");
}

/// A tank of ten times the volume and more by the rig gives more than the corners took.
#[test]
fn a_wrong_tank_volume_is_left_over() {
    let car = lifted(&car(205, [0.0; 3]));
    let half = car
        .rig
        .replace("[tank]\nvolume_l = ", "[tank]\nvolume_l = 3");
    let log = Log::recorded(&half, &car.csv);
    let report = log.report("duty", &[]);
    let (low, high) = interval(row(&report, "tank"), 5);
    println!("unexplained {low:.2} to {high:.2}");
    assert!(low > 0.0 || high < 0.0);
    assert!(finds(&report, "unexplained_air"), "{}", report["findings"]);
    assert!(finds(&log.report("trip", &[]), "unexplained_air"));
    assert!(report.to_string().contains("wrong volume in the rig"));
}
