//! Heights with a name on the lift bench: all data invented.

use super::bench::{Log, rows};
use seep_tests::lift_bench::{Bench, Recorded, lifted};

const RECORDED: Recorded = Recorded {
    wired: true,
    heights: true,
    raster_s: 0.1,
};

/// To 20 mm and back to −15, twelve times, corner after corner; the rig calls the one `drive`, at 18 mm.
#[test]
fn a_height_that_the_rig_names_is_told_by_its_name() {
    let car = Bench {
        targets_mm: vec![20.0, -15.0],
        rig: "[[position]]\nname = \"drive\"\nmm = { front_left = 18, rear_right = 18 }\n".into(),
        ..Bench::drawn(521, RECORDED)
    };
    let car = lifted(&car);
    let report = Log::recorded(&car.rig, &car.csv).report("moves", &[]);
    let corners = rows(&report, "position-corners");
    let drive: Vec<_> = corners.iter().filter(|r| r[0]["text"] == "drive").collect();
    assert!(!drive.is_empty(), "{corners:?}");
    for row in &drive {
        let off = row[5]["value"].as_f64().expect("a height beside the name");
        println!("{}: {off} mm above", row[1]["text"]);
        // Twenty less eighteen, and where the controller stops.
        assert!((0.0..=4.5).contains(&off), "{off}");
    }
    let visits = rows(&report, "positions");
    let named = visits.iter().filter(|r| r[0]["text"] == "drive");
    let count: f64 = named.filter_map(|r| r[1]["value"].as_f64()).sum();
    assert!(count >= 12.0, "{visits:?}");
}

/// A day between the lifts to a position that comes out half a millimetre lower each time;
/// the other position stays.
#[test]
fn a_position_that_comes_out_lower_month_by_month_shows_its_trend() {
    let targets = (0..12).flat_map(|day| [20.0 - 0.5 * f64::from(day), -15.0]);
    let car = Bench {
        targets_mm: targets.collect(),
        apart_s: 43_200.0,
        ..Bench::drawn(522, RECORDED)
    };
    let car = lifted(&car);
    let report = Log::recorded(&car.rig, &car.csv).report("moves", &[]);
    let corners = rows(&report, "position-corners");
    let mut seen = 0;
    for row in corners {
        let number = |cell: usize, key: &str| row[cell][key].as_f64().expect("a number");
        if number(2, "value") < 0.0 {
            continue;
        }
        // A lift in each pause and its round of 300 s.
        let truth = -0.5 * 30.0 * 86_400.0 / (43_200.0 + 300.0) / 2.0;
        let (low, high) = (number(4, "low"), number(4, "high"));
        println!(
            "{}: {low:.1} to {high:.1} mm in 30 days, truly {truth:.1}",
            row[0]["text"]
        );
        // The controller stops up to 2.5 mm short, by the stroke: the truth to a fifth.
        assert!(low < 0.8 * truth && 1.2 * truth < high, "{row}");
        assert!(high - low < 6.0, "tells something: {row}");
        seen += 1;
    }
    assert_eq!(seen, 2, "both corners: {corners:?}");
    for row in rows(&report, "positions") {
        let (low, high) = (row[4]["low"].as_f64(), row[4]["high"].as_f64());
        println!(
            "{}: slower by {low:?} to {high:?} s in 30 days",
            row[0]["text"]
        );
        assert!(low.expect("low") <= high.expect("high"));
    }
}
