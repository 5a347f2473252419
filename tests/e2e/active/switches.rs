//! Where the pressure switch acts, and who else may end a run.

use super::bench::{Rows, finds};
use super::pump::{Cycle, Seen, recorded};

/// From sea level to 1,500 m in the course of the log (US Standard Atmosphere
/// 1976: 101.325 and 84.556 kPa), the switch where it was.
fn uphill(i: usize, switch_moves_kpa: f64) -> Cycle {
    Cycle {
        outside_kpa: 101.325 - 16.769 * i as f64 / 13.0,
        cut_out_kpa: 1000.0 + switch_moves_kpa * i as f64 / 13.0,
        ..Cycle::every_hours(5.0, i)
    }
}

/// A gauge switch compares with the outside of the moment, whichever sensor
/// reads the tank; and one that does move is still found.
#[test]
fn uphill_no_switch_moves() {
    for absolute_tank in [false, true] {
        for (moves, found) in [(0.0, false), (-40.0, true)] {
            let seen = Seen {
                absolute_tank,
                ..Seen::ALL
            };
            let cycles: Vec<Cycle> = (0..14).map(|i| uphill(i, moves)).collect();
            let report = recorded(&cycles, seen).report("duty", &[]);
            assert_eq!(
                finds(&report, "pressure_switch_shift"),
                found,
                "absolute {absolute_tank}, {moves} kPa: {}",
                report["findings"]
            );
        }
    }
}

/// From 25 °C to −5 °C within the log. The tank's sensor shifts by 0.03 % of 1,600 kPa per
/// kelvin, the most that data sheets of the trade allow (common practice, no source); the
/// switch itself stays, or moves by 60 kPa.
#[test]
fn a_sensor_that_follows_the_weather_moves_no_switch() {
    for (moves, found) in [(0.0, false), (-60.0, true)] {
        let cycle = |i: usize| {
            let share = i as f64 / 17.0;
            let zero_kpa = 0.0003 * 1_600.0 * 30.0 * share;
            Cycle {
                outside_c: 25.0 - 30.0 * share,
                cut_out_kpa: 1000.0 - zero_kpa + moves * share,
                ..Cycle::every_hours(9.0, i)
            }
        };
        let cycles: Vec<Cycle> = (0..18).map(cycle).collect();
        let report = recorded(&cycles, Seen::ALL).report("duty", &[]);
        assert_eq!(
            finds(&report, "pressure_switch_shift"),
            found,
            "{moves} kPa: {}",
            report["findings"]
        );
    }
}

/// An absolute reading without a barometer knows nothing of a gauge switch.
#[test]
fn without_a_barometer_an_absolute_sensor_accuses_no_switch() {
    let seen = Seen {
        absolute_tank: true,
        barometer: false,
        wired: true,
    };
    let cycles: Vec<Cycle> = (0..14).map(|i| uphill(i, 0.0)).collect();
    let report = recorded(&cycles, seen).report("duty", &[]);
    assert!(
        !finds(&report, "pressure_switch_shift"),
        "{}",
        report["findings"]
    );
}

/// What else moves when a run stops early.
#[derive(Clone, Copy, PartialEq, Debug)]
enum Besides {
    Nothing,
    /// The engine stops: the supply falls from its charging voltage.
    Engine,
    /// A fill of one corner ends.
    Fill,
}

const RIG: &str = "[tank]\nvolume_l = 20.0\n[[circuit]]\nname = \"front_left\"\nvolume_l = 3.0\n\
    [[compressor]]\nname = \"compressor_1\"\n[limits]\ncut_out_kpa_gauge = 1000.0\n";

/// Six runs of two minutes, the second and the fifth stop 60 kPa early.
fn early_stops(besides: Besides) -> Rows {
    let mut out = Rows::new(&[
        "tank_kpa_gauge",
        "compressor_1_on",
        "supply_v",
        "front_left_fill",
        "front_left_kpa_gauge",
    ]);
    for run in 0..6_i32 {
        let (start, early) = (3_600 * (1 + 4 * run), run % 3 == 1);
        let (stop, end_kpa) = if early { (84, 940.0) } else { (120, 1000.0) };
        for s in (-1_800..2_400)
            .step_by(2)
            .filter(|s| s % 30 == 0 || (0..=150).contains(s))
        {
            let on = (0..stop).contains(&s);
            let kpa = match s {
                ..0 => 800.0,
                _ if on => 800.0 + (end_kpa - 800.0) * f64::from(s) / f64::from(stop),
                _ => end_kpa,
            };
            let with = |b: Besides| early && besides == b;
            let volts = match s {
                _ if with(Besides::Engine) && s > stop => 12.6,
                _ if on => 13.7,
                _ => 13.9,
            };
            let fill = with(Besides::Fill) && (stop - 10..stop).contains(&s);
            let t = f64::from(start + s);
            out.put(t, "tank_kpa_gauge", kpa + 0.3 * (t * 12.9898).sin());
            out.put(t, "compressor_1_on", f64::from(u8::from(on)));
            out.put(t, "supply_v", volts);
            out.put(t, "front_left_fill", f64::from(u8::from(fill)));
            out.put(t, "front_left_kpa_gauge", 500.0);
        }
    }
    out
}

/// A thermal switch is accused only of stops that nothing else explains.
#[test]
fn the_engine_and_a_fill_are_no_thermal_switch() {
    for besides in [Besides::Nothing, Besides::Engine, Besides::Fill] {
        let report = early_stops(besides).recorded(RIG).report("duty", &[]);
        assert_eq!(
            finds(&report, "thermal_cut_out"),
            besides == Besides::Nothing,
            "{besides:?}: {}",
            report["findings"]
        );
    }
}
