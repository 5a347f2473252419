//! Heights of a pair on one circuit, written by hand: all data invented.

use super::bench::{Log, Rows, rows};
use serde_json::Value;
use std::f64::consts::TAU;

const FRONT: &str = "[limits]\nheight_tolerance_mm = 3.0\n[tank]\nvolume_l = 18.0\n[[circuit]]\n\
    name = \"front\"\naxle = \"front\"\nsides = [\"front_left\", \"front_right\"]\n\
    volume_at_zero_height_l = 5.0\neffective_area_cm2 = 200.0\n";

/// Twenty minutes at 60 km/h with bends of ±12 mm, each 24 s long, and bumps of ±2 mm for both
/// sides; `right` is what the right side has of a bend.
fn drive(right: f64) -> Value {
    let mut log = Rows::new(&[
        "front_kpa_gauge",
        "front_left_mm",
        "front_right_mm",
        "vehicle_kmh",
    ]);
    for i in 0..2_400 {
        let t_s = 0.5 * f64::from(i);
        let bend = 12.0 * (TAU * t_s / 24.0).sin();
        let bump = 2.0 * (TAU * t_s / 7.0).sin();
        log.put(t_s, "front_kpa_gauge", 500.0);
        log.put(t_s, "front_left_mm", 4.0 + bump + bend);
        log.put(t_s, "front_right_mm", -1.0 + bump + right * bend);
        log.put(t_s, "vehicle_kmh", 60.0);
    }
    let log: Log = log.recorded(FRONT);
    log.report("moves", &[])
}

#[test]
fn air_that_crosses_in_bends_shows_as_mirrored_height_at_constant_sum() {
    let report = drive(-1.0);
    let row = &rows(&report, "side-to-side")[0];
    let value = |cell: usize| row[cell]["value"].as_f64().expect("a number");
    println!("{row}");
    // A sine is within 0.997 of its height for 19 of 20 readings; bins of half a millimetre.
    assert!((value(2) - 12.0).abs() <= 0.5, "{row}");
    assert!((value(3) - 2.0).abs() <= 0.5, "{row}");
    // Variances of sines: (2² − 12²)/(2² + 12²).
    assert!((value(4) + 140.0 / 148.0).abs() < 0.02, "{row}");
    // 100 cm² of each side by 12 mm are 0.12 L, at 601.3 kPa (p·V at 20 °C and 100 kPa).
    assert!((value(5) - 0.7216).abs() < 0.05, "{row}");
    assert!(
        report
            .to_string()
            .contains("Air crosses from side to side of front")
    );
}

#[test]
fn sides_that_move_alike_pass_no_air() {
    let report = drive(1.0);
    let value = rows(&report, "side-to-side")[0][4]["value"].as_f64();
    assert!(value.expect("a number") > 0.95, "{report}");
    assert!(report.to_string().contains("No air was seen to cross"));
}
