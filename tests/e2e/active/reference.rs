//! Times at reference conditions on the lift bench: all data invented.

use super::bench::{Log, drives, rows};
use seep_tests::lift_bench::air::{Air, anr_l, mass_flow};
use seep_tests::lift_bench::{Bench, Corner, lifted};
use serde_json::Value;

const REFERENCE: &str = "[limits]\nreference_tank_kpa_gauge = 1000.0\n";
const OUTSIDE_PA: f64 = 101_325.0;

/// Lifts between two heights, on a warm or a cold day.
fn car(targets_mm: [f64; 2], warmer_k: f64) -> Bench {
    let mut car = Bench {
        targets_mm: targets_mm.to_vec(),
        rig: REFERENCE.into(),
        ..drives(511)
    };
    car.outside.1 += warmer_k;
    car
}

/// From −25 to 25 mm and 400 to 500 kPa gauge with the tank at 1,000 kPa and 20 °C, by the
/// bench's own flow, from the true conductance, s.
fn true_time(corner: &Corner, path: usize) -> f64 {
    let steps = 2_000;
    let at = |share: f64| {
        let m3 = corner.volume_m3 + corner.area_m2 * (-0.025 + 0.05 * share);
        Air::at(OUTSIDE_PA + 400e3 + 100e3 * share, m3, 293.15)
    };
    let tank = Air::at(OUTSIDE_PA + 1_000e3, 0.02, 293.15);
    let time = |i: u32| {
        let share = |half: f64| (f64::from(i) + half) / f64::from(steps);
        let (from, now, to) = (at(share(0.0)), at(share(0.5)), at(share(1.0)));
        let (c, b) = (corner.c[path], corner.b[path]);
        let flow = match path {
            0 => mass_flow(c, b, &tank, now.pa()),
            _ => mass_flow(c, b, &now, OUTSIDE_PA),
        };
        (anr_l(to.kg) - anr_l(from.kg)) / anr_l(flow)
    };
    (0..steps).map(time).sum()
}

fn interval(cell: &Value) -> (f64, f64) {
    let number = |key: &str| cell[key].as_f64().expect("a number");
    (number("low"), number("high"))
}

/// Small lifts on a cold day and large ones on a warm day: the same car, the same time.
#[test]
fn one_car_has_one_time_at_reference_whatever_moves_its_log_holds() {
    for bench in [car([4.0, -4.0], -12.0), car([30.0, -30.0], 12.0)] {
        let lifted = lifted(&bench);
        let report = Log::recorded(&lifted.rig, &lifted.csv).report("moves", &[]);
        for (row, path) in rows(&report, "paths").iter().zip([0, 1, 0, 1]) {
            let name = row[0]["text"].as_str().expect("a path");
            let corner = &bench.corners[usize::from(name.starts_with("rear"))];
            let truth = true_time(corner, path);
            let (low, high) = interval(&row[3]);
            println!("{name}: {low:.2} to {high:.2} s, truly {truth:.2} s");
            assert!(low < truth && truth < high, "{name}: {low} {truth} {high}");
            assert!(high < 1.6 * low, "tells something: {low} {high}");
        }
    }
}
