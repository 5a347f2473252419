//! A line that kinks, read at the spring and at the manifold, on the lift bench: all
//! data invented.

use super::bench::{Log, drives, finds};
use seep_tests::lift_bench::{Line, lifted};
use serde_json::Value;

/// Both lines have 85 cm³ (3 m of 6 mm bore); that of the rear right kinks half way;
/// some hours lie between the moves.
fn moves_of(seed: u64, sensor_at_manifold: bool) -> Value {
    let mut car = drives(seed);
    for corner in &mut car.corners {
        corner.line = Some(Line {
            m3: 85e-6,
            c: 0.25,
            b: 0.3,
            kinks: None,
            sensor_at_manifold,
        });
    }
    let line = car.corners[1].line.as_mut().expect("a line");
    line.kinks = Some((6, 0.05));
    let lifted = lifted(&car);
    Log::recorded(&lifted.rig, &lifted.csv).report("moves", &[])
}

#[test]
fn a_kinked_line_shows_at_the_spring_and_at_the_manifold_the_report_says_that_it_cannot() {
    for seed in [401, 402] {
        let at_bag = moves_of(seed, false);
        assert!(finds(&at_bag, "line_restricted"), "{}", at_bag["verdict"]);
        let at_manifold = moves_of(seed, true);
        assert_eq!(at_manifold["findings"], serde_json::json!([]), "{seed}");
        let verdict = at_manifold["verdict"].to_string();
        println!("{seed}: {verdict}");
        assert!(!verdict.contains("no path has become slower"), "{verdict}");
        let told = verdict.contains("slow line") && verdict.contains("manifold");
        assert!(told, "{verdict}");
    }
}
