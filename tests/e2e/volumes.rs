//! `seep volumes` on simulated cars whose owner measures: corners loaded one at a
//! time, the car raised from low to high. The simulator has its own physics of heat,
//! rubber and sensors; `SEEP_VOLUMES_CARS=20` takes more cars than the usual three.

use super::{SEEP, SEEPD};
use seep_sample_logs::files::{BOX, BUS, RIG};
use seep_sample_logs::generate;
use seep_sample_logs::scenario::{Action, Scenario, Stage, StageKind, builtin};
use seep_sample_logs::truth::Truth;
use seep_tests::scratch::scratch;
use seep_tests::{code, run};
use serde_json::Value;

/// Minutes from a change of load to the move that follows it, and from a move to the
/// next change.
const LOADED_MIN: f64 = 8.0;
const MOVED_MIN: f64 = 8.0;

/// Walls and shells that take up heat for a shorter and a longer time than usual; the
/// estimator does not know which.
const HEAT_TIMES: [f64; 3] = [1.0, 0.6, 1.6];

/// What the owner loads at once.
#[derive(Clone, Copy, PartialEq)]
enum Loaded {
    /// One corner of a car without an anti-roll bar, so that the corner's partner is
    /// not filled and dumped again in the same move.
    Corner,
    /// Both sides of an axle alike: the bar shifts nothing.
    Axle,
}

/// An invented car and owner: each round loads the corners or axles in turn, brings
/// the car back to its height and the same without the load, then lowers and raises it.
fn measured_car(seed: u64, rounds: usize, loaded: Loaded) -> Scenario {
    let mut car = builtin("healthy-road-trip")
        .expect("comes with the project")
        .varied(seed);
    car.faults.clear();
    if loaded == Loaded::Corner {
        car.vehicle.anti_roll_n_mm = 0.0;
    }
    if loaded == Loaded::Axle {
        // Two bags of one type.
        for left in [0, 2] {
            let (volume_l, area_cm2) = (car.circuits[left].volume_l, car.circuits[left].area_cm2);
            car.circuits[left + 1].volume_l = 1.02 * volume_l;
            car.circuits[left + 1].area_cm2 = area_cm2;
        }
    }
    let factor = HEAT_TIMES[seed as usize % HEAT_TIMES.len()];
    car.tank.shell_s *= factor;
    car.circuits.iter_mut().for_each(|c| c.skin_s *= factor);
    let circuits = car.circuits.len();
    let mut actions = Vec::new();
    let mut at_min = 5.0;
    let mut act = |preset: Option<&str>, load: Option<Vec<f64>>| {
        let wait_min = if load.is_some() {
            LOADED_MIN
        } else {
            MOVED_MIN
        };
        actions.push(Action {
            at_min,
            preset: preset.map(Into::into),
            load_kg: load,
        });
        at_min += wait_min;
    };
    act(Some("drive"), None);
    for round in 0..rounds {
        let step = if loaded == Loaded::Axle { 2 } else { 1 };
        for corner in (0..circuits).step_by(step) {
            let mut load = vec![0.0; circuits];
            let kg = 90.0 + 15.0 * ((round + corner) % 4) as f64;
            load[corner..corner + step].fill(kg);
            act(None, Some(load));
            act(Some("drive"), None);
            act(None, Some(vec![0.0; circuits]));
            act(Some("drive"), None);
        }
        act(Some("low"), None);
        act(Some("high"), None);
        act(Some("drive"), None);
    }
    let mut stage = Stage::new(StageKind::Parked, at_min + 20.0);
    stage.actions = actions;
    // The bus speaks while the car drives.
    car.stages = vec![Stage::new(StageKind::Drive, 3.0), stage];
    car
}

fn report(car: &Scenario) -> (Value, Truth) {
    let folder = scratch();
    let logs = generate(car);
    logs.write(folder.path()).expect("written");
    let at = |file: &str| folder.path().join(file).display().to_string();
    let (rig, bus, wire, log) = (at(RIG), at(BUS), at(BOX), at("log.db"));
    let done = run(
        SEEPD,
        &["replay", "--rig", &rig, "--log", &log, &bus, &wire],
    );
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    let done = run(SEEP, &["volumes", "--log", &log, "--format", "json"]);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    let report = serde_json::from_slice(&done.stdout).expect("JSON");
    (report, logs.truth)
}

fn rows<'a>(report: &'a Value, section: &str) -> Vec<&'a Vec<Value>> {
    let sections = report["sections"].as_array().expect("sections");
    let Some(found) = sections.iter().find(|s| s["id"] == section) else {
        return Vec::new();
    };
    let rows = found["tables"][0]["rows"].as_array().expect("rows");
    rows.iter().map(|r| r.as_array().expect("a row")).collect()
}

fn true_volume_l(truth: &Truth, circuit: &str, at_mm: f64) -> f64 {
    let table = &truth.parameters.circuits[circuit].volume_at_height;
    let pair = (table.windows(2))
        .find(|p| p[1][0] >= at_mm)
        .unwrap_or(&table[table.len() - 2..]);
    let [[h0, v0], [h1, v1]] = [pair[0], pair[1]];
    v0 + (v1 - v0) * (at_mm - h0) / (h1 - h0)
}

/// Volumes of some cars against the truth.
#[derive(Default)]
struct Score {
    inside: usize,
    errors: Vec<f64>,
}

impl Score {
    fn add(&mut self, seed: u64, rounds: usize, loaded: Loaded) {
        let car = measured_car(4_000 + seed, rounds, loaded);
        let (report, truth) = report(&car);
        let all_rows = rows(&report, "transfers");
        let fills = all_rows.iter().filter(|r| r[2]["text"] == "fill").count();
        assert!(
            fills >= 3 * rounds / 2,
            "{fills} fills: {}",
            report["notes"]
        );
        for (row, circuit) in rows(&report, "volumes").iter().zip(&car.circuits) {
            let number = |cell: &Value, key: &str| cell[key].as_f64().expect("a number");
            let (value, low, high) = (
                number(&row[1], "value"),
                number(&row[1], "low"),
                number(&row[1], "high"),
            );
            let expected = true_volume_l(&truth, &circuit.name, number(&row[2], "value"));
            self.inside += usize::from((low..=high).contains(&expected));
            self.errors.push(value / expected - 1.0);
            println!(
                "{seed} {} {value:.3} ({low:.3} to {high:.3}), true {expected:.3}, {fills} fills; {}",
                circuit.name, row[3]["text"]
            );
        }
        let lines: Vec<&str> = (rows(&report, "rig-lines").iter())
            .filter_map(|r| r[0]["text"].as_str())
            .collect();
        let areas = lines.iter().filter(|l| l.starts_with("effective_area_cm2"));
        assert_eq!(areas.count(), car.circuits.len(), "{lines:?}");
    }

    /// 95 % inside their interval and 95 % within 5 %, of few cars one less.
    fn check(mut self) {
        self.errors.sort_by(f64::total_cmp);
        let all = self.errors.len();
        let median = self.errors[all / 2];
        let within = self.errors.iter().filter(|e| e.abs() <= 0.05).count();
        println!(
            "{} of {all} within their interval, {within} within 5 %, median error {:+.2} %, from {:+.2} % to {:+.2} %",
            self.inside,
            100.0 * median,
            100.0 * self.errors[0],
            100.0 * self.errors[all - 1]
        );
        let bar = (all * 95 / 100).min(all - 1);
        assert!(self.inside >= bar, "{} of {all}", self.inside);
        assert!(within >= bar, "{within} of {all}");
        assert!(median.abs() <= 0.03, "{median}");
    }
}

fn cars() -> u64 {
    std::env::var("SEEP_VOLUMES_CARS").map_or(3, |n| n.parse().expect("a number"))
}

#[test]
fn volumes_from_thirty_fills_are_those_of_the_car() {
    let mut score = Score::default();
    for seed in 0..cars() {
        score.add(seed, 7, Loaded::Corner);
    }
    score.check();
}

#[test]
fn a_car_with_an_anti_roll_bar_is_loaded_by_axles() {
    let mut score = Score::default();
    for seed in 0..cars().div_ceil(2) {
        score.add(500 + seed, 12, Loaded::Axle);
    }
    score.check();
}
