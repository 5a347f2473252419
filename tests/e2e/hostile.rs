//! The fuzz targets as plain tests: their corpus, and seeded mutations of it.

use seep_tests::fuzz::mutate::mutated;
use seep_tests::fuzz::{TARGETS, Target, corpus};
use seep_tests::seeded::Seeded;

fn survives(name: &str) {
    let known = |t: &&Target| t.name == name;
    let target = TARGETS.iter().find(known).expect("a target");
    let inputs = corpus(name);
    for input in &inputs {
        (target.run)(input);
    }
    let mut seeded = Seeded::new(7);
    for _ in 0..target.rounds {
        let input = mutated(&inputs, target, &mut seeded);
        let done = std::panic::catch_unwind(|| (target.run)(&input));
        if done.is_err() {
            let kept = std::env::temp_dir().join(format!("seep-hostile-{name}"));
            std::fs::write(&kept, &input).expect("written");
            panic!("{name}: this input is a finding: {}", kept.display());
        }
    }
}

#[test]
fn nmea() {
    survives("nmea");
}

#[test]
fn candump() {
    survives("candump");
}

#[test]
fn dbc() {
    survives("dbc");
}

#[test]
fn rig() {
    survives("rig");
}

#[test]
fn table() {
    survives("table");
}

#[test]
fn log() {
    survives("log");
}

#[test]
fn replay() {
    survives("replay");
}
