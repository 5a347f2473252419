//! Readings by tape measure on a car that has gauges only: through CSV, `seepd replay`,
//! `seepd note` and `seep leaks`. All data invented; the physics of the car is this
//! file's own: gas law, a load carried by a constant area, a leak of constant flow.

use super::{SEEP, SEEPD};
use seep_tests::{code, run};
use serde_json::Value;
use std::fmt::Write as _;
use std::path::Path;

const RIG: &str = r#"
[vehicle]
name = "Gauges only (invented)"

[tank]
volume_l = 19.0

[[circuit]]
name = "front_left"
axle = "front"
effective_area_cm2 = 100
volume_at_zero_height_l = 3.0

[[circuit]]
name = "front_right"
axle = "front"
effective_area_cm2 = 100
volume_at_zero_height_l = 3.0

[[source]]
name = "box"
kind = "csv"
time_column = "t"
silence_s = 600.0

[[channel]]
name = "front_left_kpa_gauge"
source = "box"
column = "fl"
unit = "kPa"
period_s = 60

[[channel]]
name = "front_right_kpa_gauge"
source = "box"
column = "fr"
unit = "kPa"
period_s = 60

[[channel]]
name = "tank_kpa_gauge"
source = "box"
column = "tank"
unit = "kPa"
period_s = 60

[[channel]]
name = "ambient_c"
source = "box"
column = "c"
unit = "°C"
period_s = 60

[[channel]]
name = "vehicle_kmh"
source = "box"
column = "kmh"
unit = "km/h"
period_s = 60
"#;

/// Midnight of 2025-06-16, UTC.
const MIDNIGHT_S: i64 = 1_750_032_000;
const DAYS: i64 = 5;
const LOAD_KPA_GAUGE: f64 = 600.0;
const OUTSIDE_KPA: f64 = 101.325;
/// Litres per millimetre of 100 cm².
const L_PER_MM: f64 = 0.01;

/// Driven from 07:30 to 08:30 and from 17:30 to 18:30.
fn driving(minute: i64) -> bool {
    let of_day = minute.rem_euclid(1440);
    (450..510).contains(&of_day) || (1050..1110).contains(&of_day)
}

/// A corner: air in litres ANR, levelled to height 0 while driving.
struct Corner {
    anr_l: f64,
    leak_cm3_min: f64,
}

impl Corner {
    fn at_level(kelvin: f64) -> f64 {
        (LOAD_KPA_GAUGE + OUTSIDE_KPA) / 100.0 * 3.0 * 293.15 / kelvin
    }

    fn minute(&mut self, kelvin: f64, driving: bool) {
        self.anr_l -= self.leak_cm3_min / 1000.0;
        if driving {
            self.anr_l = Self::at_level(kelvin);
        }
    }

    /// Off its stops the pressure is that of the load; the height follows the air.
    fn height_mm(&self, kelvin: f64) -> f64 {
        let volume_l = self.anr_l * 100.0 / (LOAD_KPA_GAUGE + OUTSIDE_KPA) * kelvin / 293.15;
        (volume_l - 3.0) / L_PER_MM
    }
}

/// A small noise that is the same in every run, -1 to 1.
fn noise(i: i64) -> f64 {
    let x = (i.wrapping_mul(6_364_136_223_846_793_005) >> 33) as f64;
    2.0 * (x / 2_147_483_648.0).fract().abs() - 1.0
}

struct GaugeCar {
    folder: tempfile::TempDir,
    log: String,
    /// Heights by minute, front left and right, mm.
    heights: Vec<[f64; 2]>,
}

impl GaugeCar {
    fn new(leaks_cm3_min: [f64; 2]) -> Self {
        let folder = tempfile::tempdir().expect("scratch");
        let at = |name: &str| folder.path().join(name).display().to_string();
        let mut table = String::from("t,fl,fr,tank,c,kmh\n");
        let mut corners = leaks_cm3_min.map(|leak_cm3_min| Corner {
            anr_l: Corner::at_level(288.0),
            leak_cm3_min,
        });
        let mut heights = Vec::new();
        for minute in 0..DAYS * 1440 {
            // Coldest at four in the morning.
            let turn =
                (minute.rem_euclid(1440) as f64 / 1440.0 - 1.0 / 6.0) * std::f64::consts::TAU;
            let kelvin = 288.0 - 4.0 * turn.cos();
            for corner in &mut corners {
                corner.minute(kelvin, driving(minute));
            }
            heights.push([corners[0].height_mm(kelvin), corners[1].height_mm(kelvin)]);
            let kpa = |k: i64| LOAD_KPA_GAUGE + 0.3 * noise(minute * 7 + k);
            let tank = (880.0 + OUTSIDE_KPA) * kelvin / 288.0 - OUTSIDE_KPA;
            writeln!(
                table,
                "{},{:.2},{:.2},{:.2},{:.2},{}",
                MIDNIGHT_S + minute * 60,
                kpa(0),
                kpa(1),
                tank + 0.3 * noise(minute * 7 + 2),
                kelvin - 273.15 + 0.05 * noise(minute * 7 + 3),
                if driving(minute) { 60 } else { 0 },
            )
            .expect("a row");
        }
        let (rig, csv, log) = (at("rig.toml"), at("car.csv"), at("car.db"));
        std::fs::write(&rig, RIG).expect("written");
        std::fs::write(&csv, table).expect("written");
        let done = run(SEEPD, &["replay", "--rig", &rig, "--log", &log, &csv]);
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
        GaugeCar {
            folder,
            log,
            heights,
        }
    }

    /// Notes a tape reading: 412 mm at ride height, off by some millimetres.
    fn measure(&self, side: usize, day: i64, hour: i64, off_mm: f64) {
        let minute = day * 1440 + hour * 60;
        let i = usize::try_from(minute).expect("a minute");
        let place = ["front_left", "front_right"][side];
        let mm = 412.0 + self.heights[i][side] + off_mm;
        let at = format!("2025-06-{:02} {hour:02}:00", 16 + day);
        self.note(&format!("{place}_mm={mm:.0}"), &at);
    }

    fn note(&self, reading: &str, at: &str) {
        let args = [
            "note",
            "--log",
            &self.log,
            "--zone",
            "UTC",
            "--at",
            at,
            "--reading",
            reading,
        ];
        let done = run(SEEPD, &args);
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    }

    /// Two nights, evening and morning; the tape is off by up to 3 mm.
    fn measure_two_nights(&self, side: usize) {
        self.measure(side, 1, 19, 2.0);
        self.measure(side, 2, 7, -1.0);
        self.measure(side, 2, 19, -2.0);
        self.measure(side, 3, 7, 3.0);
    }

    fn leaks(&self) -> Value {
        let done = run(
            SEEP,
            &[
                "leaks", "--log", &self.log, "--format", "json", "--zone", "UTC",
            ],
        );
        assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
        assert!(Path::new(&self.log).starts_with(self.folder.path()));
        serde_json::from_slice(&done.stdout).expect("JSON")
    }
}

fn sentence(report: &Value) -> &str {
    report["verdict"]["sentence"].as_str().expect("a sentence")
}

fn named(report: &Value) -> Vec<(String, String)> {
    let word = |f: &Value, key: &str| f[key].as_str().unwrap_or("").to_string();
    let all = report["findings"].as_array().expect("findings");
    all.iter()
        .map(|f| (word(f, "kind"), word(f, "place")))
        .collect()
}

/// 5 cm³/min take 50 mm in a night, the pressure stays: UNKNOWN, and the report asks for
/// the tape. Two evenings and mornings name the leak, and its size lies within.
#[test]
fn two_nights_of_tape_name_a_leak_that_gauges_cannot_see() {
    let car = GaugeCar::new([5.0, 0.0]);
    let before = car.leaks();
    println!("without: {}", sentence(&before));
    assert_eq!(before["verdict"]["severity"], "unknown");
    assert!(named(&before).is_empty(), "{:?}", named(&before));
    assert!(sentence(&before).contains("measure front left, front right at night"));
    assert!(sentence(&before).contains("seepd note --reading front_left_mm="));

    car.measure_two_nights(0);
    car.note("front_left_mm=410", "2025-06-18 12:00");
    let after = car.leaks();
    println!("with: {}", sentence(&after));
    let leak = ("corner_leak".to_string(), "front_left".to_string());
    assert_eq!(named(&after), [leak]);
    let flow = &after["findings"][0]["evidence"][0]["value"];
    println!("flow: {flow}");
    let number = |key: &str| flow[key].as_f64().expect("a number");
    assert!(number("low") <= 5.0 && 5.0 <= number("high"), "{flow}");
    assert!(number("low") > 0.0 && number("high") < 9.0, "{flow}");
    let notes = after["notes"].to_string();
    println!("{notes}");
    assert!(notes.contains("used: 4 (front left 4)"), "{notes}");
    assert!(notes.contains("Not used: 1 (front left 1)"), "{notes}");
}

/// The same readings of a car that holds its air name nothing; what the tape leaves open
/// is said with a figure, or the corner counts as seen.
#[test]
fn two_nights_of_tape_name_nothing_on_a_sound_car() {
    let car = GaugeCar::new([0.0, 0.0]);
    car.measure_two_nights(0);
    car.measure_two_nights(1);
    let report = car.leaks();
    println!("sound: {}", sentence(&report));
    assert!(named(&report).is_empty(), "{:?}", named(&report));
    assert!(!sentence(&report).contains("cannot be seen at front"));
}
