//! Each scenario tells what it says it tells.

mod support;

use seep_sample_logs::truth::{RestStretch, Truth};
use support::{each_builtin, logs_of, readings};

const HOUR_MS: i64 = 3_600_000;

fn nights(truth: &Truth) -> Vec<&RestStretch> {
    let long = |r: &&RestStretch| r.end_ms - r.start_ms > 6 * HOUR_MS && r.power_off_h < 0.1;
    truth.rests.iter().filter(long).collect()
}

#[test]
fn each_is_long_and_busy_enough() {
    each_builtin(|scenario, logs| {
        let (truth, name) = (&logs.truth, &scenario.name);
        let hours = (truth.end_ms - truth.start_ms) / HOUR_MS;
        assert!((48..=96).contains(&hours), "{name}: {hours} h");
        assert!(truth.drives.len() >= 4, "{name}");
        for [from, to] in &truth.drives {
            assert!((480_000..=1_200_000).contains(&(to - from)), "{name}");
        }
        assert!(!truth.power_off.is_empty(), "{name}");
        let night = |r: &RestStretch| r.end_ms - r.start_ms > 8 * HOUR_MS;
        assert!(
            truth.rests.iter().filter(|r| night(r)).count() >= 2,
            "{name}"
        );
        for circuit in &scenario.circuits {
            let of = |m: &&seep_sample_logs::truth::Move| m.circuit == circuit.name;
            let moves = truth.moves.iter().filter(of).count();
            assert!(moves >= 12, "{name} {}: {moves}", circuit.name);
        }
        assert!(!truth.runs.is_empty(), "{name}");
    });
}

#[test]
fn nothing_is_recorded_without_power() {
    each_builtin(|scenario, logs| {
        let off = &logs.truth.power_off;
        for r in readings(&logs.nmea) {
            let dark = off.iter().any(|s| r.t_ms > s[0] && r.t_ms < s[1]);
            assert!(!dark, "{}: {r:?}", scenario.name);
        }
    });
}

#[test]
fn the_amounts_of_air_add_up() {
    each_builtin(|scenario, logs| {
        let truth = &logs.truth;
        let (first, last) = (&truth.amounts[0], &truth.amounts[truth.amounts.len() - 1]);
        let change = |place: &str| last.anr_l[place] - first.anr_l[place];
        let ledger = &truth.ledger;
        for circuit in &scenario.circuits {
            let name = &circuit.name;
            let expected = ledger.filled[name] - ledger.dumped[name] - ledger.leaked[name];
            assert!(
                (change(name) - expected).abs() < 0.001,
                "{}: {name}",
                scenario.name
            );
        }
        let delivered: f64 = ledger.delivered.values().sum();
        let filled: f64 = ledger.filled.values().sum();
        let expected = delivered - filled - ledger.leaked["tank"];
        assert!(
            (change("tank") - expected).abs() < 0.001,
            "{}",
            scenario.name
        );
        let of_runs: f64 = truth.runs.iter().map(|r| r.delivered_anr_l).sum();
        assert!((of_runs - delivered).abs() < 0.05, "{}", scenario.name);
        let of_moves: f64 = truth
            .moves
            .iter()
            .filter(|m| m.valve == "fill")
            .map(|m| m.moved_anr_l)
            .sum();
        assert!((of_moves - filled).abs() < 0.05, "{}", scenario.name);
    });
}

#[test]
fn switches_are_told_at_the_very_time_they_change() {
    let logs = logs_of("kinked-line");
    let all = readings(&logs.nmea);
    for m in &logs.truth.moves {
        let initials: String = m
            .circuit
            .split('_')
            .filter_map(|w| w.chars().next())
            .collect();
        let name = format!("{}{}", initials.to_uppercase(), m.valve[..1].to_uppercase());
        let told = |t_ms: i64, value: f64| {
            all.iter()
                .any(|r| r.t_ms == t_ms && r.name == name && r.value == Some(value))
        };
        assert!(told(m.start_ms, 1.0) && told(m.end_ms, 0.0), "{m:?}");
        let during = all
            .iter()
            .filter(|r| r.name == "TKP" && r.t_ms >= m.start_ms && r.t_ms < m.end_ms);
        assert!(
            during.count() as i64 >= (m.end_ms - m.start_ms) / 250,
            "{m:?}"
        );
    }
}

#[test]
fn readings_are_the_truth_within_their_sensors() {
    let logs = logs_of("healthy-road-trip");
    let all = readings(&logs.nmea);
    for rest in nights(&logs.truth) {
        for (place, name) in [
            ("tank", "TKP"),
            ("front_left", "FLP"),
            ("rear_right", "RRP"),
        ] {
            let near = |r: &&support::Reading| {
                r.name == name && (r.t_ms - rest.end_ms).abs() < 600_000 && r.t_ms < rest.end_ms
            };
            let values: Vec<f64> = all.iter().filter(near).filter_map(|r| r.value).collect();
            let mean_kpa = 100.0 * values.iter().sum::<f64>() / values.len() as f64;
            let true_kpa = rest.volumes[place].kpa_gauge[1];
            assert!(
                (mean_kpa - true_kpa).abs() < 5.0,
                "{place}: {mean_kpa} {true_kpa}"
            );
        }
    }
}

#[test]
fn the_healthy_car_loses_nothing_but_sinks_in_the_cold_and_reads_higher_on_the_pass() {
    let truth = &logs_of("healthy-road-trip").truth;
    assert_eq!((truth.fault.as_str(), truth.place.as_str()), ("none", ""));
    for rest in &truth.rests {
        assert!(
            rest.volumes
                .values()
                .all(|v| v.leak_anr_cm3_min.abs() < 0.05)
        );
    }
    let climb = &truth.drives[1];
    let around = |t: i64, after: bool| {
        let fits = |r: &&RestStretch| {
            if after {
                r.start_ms >= t
            } else {
                r.end_ms <= t
            }
        };
        let mut all = truth.rests.iter().filter(fits);
        if after { all.next() } else { all.next_back() }
    };
    let (before, after) = (around(climb[0], false), around(climb[1], true));
    let drop_k = before.expect("rest").outside_c[1] - after.expect("rest").outside_c[0];
    assert!(drop_k > 4.0, "{drop_k}");
}

#[test]
fn a_leaking_spring_sinks_and_keeps_most_of_its_pressure() {
    let truth = &logs_of("slow-leak-overnight").truth;
    assert_eq!(
        (truth.fault.as_str(), truth.place.as_str()),
        ("corner_leak", "rear_right")
    );
    for night in nights(truth) {
        let v = &night.volumes["rear_right"];
        let mm = v.mm.expect("a height");
        assert!(mm[0] - mm[1] > 20.0, "{mm:?}");
        let absolute = (v.kpa_gauge[1] + 100.0) / (v.kpa_gauge[0] + 100.0);
        assert!(absolute > 0.9, "{:?}", v.kpa_gauge);
        assert!(v.anr_l[1] < 0.88 * v.anr_l[0], "{:?}", v.anr_l);
        assert!(
            (3.5..5.0).contains(&v.leak_anr_cm3_min),
            "{}",
            v.leak_anr_cm3_min
        );
        assert!(night.volumes["front_left"].leak_anr_cm3_min < 0.05);
    }
}

#[test]
fn the_corner_gains_what_the_tank_loses() {
    let truth = &logs_of("fill-valve-passing").truth;
    for rest in &truth.rests {
        let (corner, tank) = (&rest.volumes["front_left"], &rest.volumes["tank"]);
        assert!(corner.leak_anr_cm3_min < -2.0);
        assert!((tank.leak_anr_cm3_min + corner.leak_anr_cm3_min).abs() < 0.05);
    }
}

#[test]
fn the_kinked_line_slows_fill_and_dump_of_one_corner_only() {
    let truth = &logs_of("kinked-line").truth;
    for valve in ["fill", "dump"] {
        for (circuit, left) in [("front_right", 0.2..0.6), ("front_left", 0.95..1.08)] {
            let of = |m: &&seep_sample_logs::truth::Move| m.circuit == circuit && m.valve == valve;
            let found: Vec<f64> = truth
                .moves
                .iter()
                .filter(of)
                .map(|m| m.effective_c_l_s_bar)
                .collect();
            let share = found[found.len() - 1] / found[0];
            assert!(left.contains(&share), "{circuit} {valve}: {found:?}");
        }
    }
    assert!(
        truth
            .rests
            .iter()
            .all(|r| r.volumes.values().all(|v| v.leak_anr_cm3_min < 0.05))
    );
}

#[test]
fn the_worn_compressor_delivers_less_per_minute_at_normal_volts() {
    let truth = &logs_of("worn-compressor").truth;
    let rates: Vec<f64> = truth
        .runs
        .iter()
        .map(|r| r.delivered_anr_l / (r.end_ms - r.start_ms) as f64 * 60_000.0 * 13.5 / r.supply_v)
        .collect();
    assert!(rates.len() >= 4, "{rates:?}");
    assert!(rates[rates.len() - 1] < 0.65 * rates[0], "{rates:?}");
    assert!(
        truth
            .runs
            .iter()
            .all(|r| r.supply_v > 11.9 && r.ended_by == "cut_out")
    );
}

#[test]
fn the_cold_leak_is_open_in_the_cold_only() {
    let truth = &logs_of("cold-only-leak").truth;
    let (mut cold, mut warm) = (0, 0);
    for rest in &truth.rests {
        let leak = rest.volumes["front_left"].leak_anr_cm3_min;
        if rest.outside_c.iter().all(|c| *c < 1.5) {
            cold += 1;
            assert!(leak > 2.0, "{rest:?}");
        }
        if rest.outside_c.iter().all(|c| *c > 6.5) {
            warm += 1;
            assert!(leak < 0.5, "{rest:?}");
        }
    }
    assert!(cold > 0 && warm > 1, "{cold} {warm}");
}

#[test]
fn the_hot_compressor_is_cut_out_and_the_other_goes_on() {
    let truth = &logs_of("hot-compressor").truth;
    let thermal: Vec<&str> = truth
        .runs
        .iter()
        .filter(|r| r.ended_by == "thermal")
        .map(|r| r.compressor.as_str())
        .collect();
    assert!(!thermal.is_empty());
    assert!(
        thermal.iter().all(|name| *name == "compressor_2"),
        "{thermal:?}"
    );
}

#[test]
fn the_axle_loses_air_after_dumps_and_not_after_fills() {
    let truth = &logs_of("axle-circuits").truth;
    let last_before = |t: i64| {
        let of = |m: &&seep_sample_logs::truth::Move| m.circuit == "rear" && m.end_ms <= t;
        truth.moves.iter().rfind(of).map(|m| m.valve.as_str())
    };
    let mut leaking = 0;
    for rest in &truth.rests {
        let leak = rest.volumes["rear"].leak_anr_cm3_min;
        if leak > 1.0 {
            leaking += 1;
            assert_eq!(last_before(rest.start_ms), Some("dump"), "{rest:?}");
        }
    }
    assert!(leaking >= 4, "{leaking}");
}

/// Other cars of the same kind: every story also works with other dimensions.
#[test]
fn other_cars_tell_the_same_story() {
    for seed in 0..cars() {
        let known = &support::builtin_logs()[seed as usize % 8].0;
        let scenario = known.varied(seed);
        let logs = seep_sample_logs::generate(&scenario);
        let truth = &logs.truth;
        let what = format!("{} with seed {seed}", scenario.name);
        for m in &truth.moves {
            let wrong_way = if m.valve == "fill" { -1.0 } else { 1.0 };
            assert!(wrong_way * (m.to_mm - m.from_mm) < 2.0, "{what}: {m:?}");
            assert!(m.moved_anr_l > 0.0, "{what}: {m:?}");
            let share = m.effective_c_l_s_bar / m.path_c_l_s_bar;
            assert!((0.7..1.2).contains(&share), "{what}: {m:?}");
            let open_ms = m.end_ms - m.start_ms;
            assert!((20..=25_500).contains(&open_ms), "{what}: {m:?}");
        }
        for rest in &truth.rests {
            for (place, v) in &rest.volumes {
                let mm = v.mm.unwrap_or_default();
                let sane = v.kpa_gauge.iter().all(|p| *p > 0.0 && *p < 1_500.0)
                    && mm.iter().all(|mm| (-80.0..=80.0).contains(mm));
                assert!(sane, "{what} {place}: {v:?}");
            }
        }
        let home = truth.moves.iter().filter(|m| m.valve == "fill").count();
        assert!(home >= 20, "{what}: {home} fills");
        assert_eq!(truth.fault, known_fault(&scenario), "{what}");
    }
}

/// How many cars are tried; `SEEP_CARS` asks for more.
fn cars() -> u64 {
    let asked = std::env::var("SEEP_CARS").ok();
    asked.and_then(|n| n.parse().ok()).unwrap_or(16)
}

fn known_fault(scenario: &seep_sample_logs::scenario::Scenario) -> &'static str {
    scenario.faults.first().map_or("none", |f| f.kind.word())
}
