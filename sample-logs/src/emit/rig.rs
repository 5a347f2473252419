//! The rig file an owner would write for the car: not quite the truth.

use super::short_names;
use crate::rng::Noise;
use crate::scenario::{By, Circuit, PressureUnit, Scenario};
use crate::world::World;
use std::fmt::Write as _;

/// Heights at which the owner measured volumes, mm.
const TABLE_MM: [f64; 5] = [-60.0, -30.0, 0.0, 30.0, 60.0];

/// The rig as TOML.
#[must_use]
pub(crate) fn rig_toml(scenario: &Scenario, world: &World) -> String {
    let mut text = format!(
        "# Invented car of the simulated scenario {}. Nothing here is a real vehicle.\n\n",
        scenario.name
    );
    let name = &scenario.vehicle.name;
    let altitude_m = scenario.surroundings.altitude_m;
    let tank_l = scenario.tank.stated_volume_l;
    let _ = write!(
        text,
        "[vehicle]\nname = \"{name}\"\ninvented = true\naltitude_m = {altitude_m:.0}.0\n\n[tank]\nvolume_l = {tank_l:.1}\n"
    );
    for (i, circuit) in scenario.circuits.iter().enumerate() {
        add_circuit(&mut text, scenario, world, i, circuit);
    }
    for c in &scenario.compressors {
        let _ = write!(
            text,
            "\n[[compressor]]\nname = \"{}\"\nrated_duty_percent = {:.1}\nrated_window_min = 10.0\n",
            c.name, c.rated_duty_percent
        );
    }
    let k = &scenario.controller;
    let tolerance = match k.by {
        By::Height => format!("height_tolerance_mm = {:.1}", k.move_tolerance),
        By::Pressure => format!("pressure_tolerance_kpa = {:.1}", k.move_tolerance),
    };
    let _ = write!(
        text,
        "\n[limits]\ncut_in_kpa_gauge = {:.1}\ncut_out_kpa_gauge = {:.1}\n{tolerance}\n",
        k.cut_in_kpa_gauge, k.cut_out_kpa_gauge
    );
    add_sources(&mut text, scenario);
    add_channels(&mut text, scenario);
    text
}

const BUS_SOURCE: &str = "
[[source]]
name = \"bus\"
kind = \"socketcan\"
interface = \"can0\"
dbc = [\"builtin:j1939-air\"]
sleeps_with_ignition = true
";

const BOX_LINE: &str = "
[[source]]
name = \"box\"
kind = \"nmea\"
baud = 38400
silence_s = 90.0
";

const BOX_TABLE: &str = "
[[source]]
name = \"box\"
kind = \"csv\"
time_column = \"unix_ms\"
time_format = \"unix_ms\"
";

fn add_sources(text: &mut String, scenario: &Scenario) {
    if scenario.watch.speed || scenario.watch.barometer {
        text.push_str(BUS_SOURCE);
    }
    let line = &scenario.watch.box_line;
    text.push_str(if line.table { BOX_TABLE } else { BOX_LINE });
}

/// Volumes measured with a small error each and rounded to a twentieth of a litre.
fn add_circuit(text: &mut String, scenario: &Scenario, world: &World, i: usize, c: &Circuit) {
    let mut noise = Noise::new(scenario.seed, &format!("table of {}", c.name));
    let scale = 1.0 + c.table_error_percent / 100.0 * noise.normal();
    let points: Vec<String> = TABLE_MM
        .iter()
        .map(|mm| {
            let true_l = world.corners[i].spring.volume(mm / 1000.0) * 1000.0;
            let wobble = 1.0 + 0.002 * noise.normal();
            let stated_l = (true_l * scale * wobble * 20.0).round() / 20.0;
            format!("[{mm:.1}, {stated_l:.2}]")
        })
        .collect();
    let (name, axle) = (&c.name, &c.axle);
    let volume = if scenario.watch.heights {
        format!("volume_at_height = [{}]", points.join(", "))
    } else {
        let stated_l = (c.volume_l * scale * 20.0).round() / 20.0;
        format!("volume_l = {stated_l:.2}")
    };
    let _ = write!(
        text,
        "\n[[circuit]]\nname = \"{name}\"\naxle = \"{axle}\"\n{volume}\n\
         volume_uncertainty_percent = 2.0\nlower_stop_mm = {:.1}\nupper_stop_mm = {:.1}\nlowest_ok_mm = {:.1}\n",
        c.lower_stop_mm,
        c.upper_stop_mm,
        c.lower_stop_mm + 15.0
    );
}

fn add_channels(text: &mut String, scenario: &Scenario) {
    let rest_s = scenario.watch.box_line.rest_s * 1.5;
    let slow_s = scenario.watch.box_line.slow_s * 1.5;
    let unit = match scenario.watch.pressure.unit {
        // The sentence itself says bar.
        PressureUnit::Bar if scenario.watch.box_line.table => "unit = \"bar\"\n",
        PressureUnit::Bar => "",
        PressureUnit::Kpa => "unit = \"kpa\"\n",
        PressureUnit::Psi => "unit = \"psi\"\n",
    };
    let mut on_box = |name: &str, transducer: &str, period_s: f64| {
        let unit = if name.ends_with("_kpa_gauge") {
            unit
        } else {
            ""
        };
        let (key, unit) = if scenario.watch.box_line.table {
            let height = if name.ends_with("_mm") {
                "unit = \"m\"\n"
            } else {
                unit
            };
            ("column", height)
        } else {
            ("transducer", unit)
        };
        let _ = write!(
            text,
            "\n[[channel]]\nname = \"{name}\"\nsource = \"box\"\n{key} = \"{transducer}\"\n{unit}period_s = {period_s:.1}\n"
        );
    };
    on_box("tank_kpa_gauge", "TKP", rest_s);
    let places: Vec<&str> = scenario.circuits.iter().map(|c| c.name.as_str()).collect();
    let short = short_names(&places);
    let watch = &scenario.watch;
    for (place, s) in places.iter().zip(&short) {
        on_box(&format!("{place}_kpa_gauge"), &format!("{s}P"), rest_s);
        if watch.heights {
            on_box(&format!("{place}_mm"), &format!("{s}H"), rest_s);
        }
        if watch.switches {
            on_box(&format!("{place}_fill"), &format!("{s}F"), slow_s);
            on_box(&format!("{place}_dump"), &format!("{s}D"), slow_s);
        }
    }
    let names: Vec<&str> = scenario
        .compressors
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    for (name, s) in names.iter().zip(short_names(&names)) {
        if watch.switches {
            on_box(&format!("{name}_on"), &s, slow_s);
        }
    }
    if watch.temperatures {
        on_box("ambient_c", "AMB", slow_s);
    }
    if watch.temperatures && watch.tank_temperature {
        on_box("tank_c", "TKT", slow_s);
    }
    if watch.temperatures && watch.bag_temperatures {
        for (place, s) in places.iter().zip(&short) {
            on_box(&format!("{place}_c"), &format!("{s}T"), slow_s);
        }
    }
    on_box("supply_v", "VOLT", slow_s);
    add_bus_channels(text, scenario);
}

fn add_bus_channels(text: &mut String, scenario: &Scenario) {
    let watch = &scenario.watch;
    for (name, signal, recorded) in [
        ("vehicle_kmh", "CCVS1.WheelBasedVehicleSpeed", watch.speed),
        ("ambient_kpa_abs", "AMB.BarometricPressure", watch.barometer),
        (
            "other_outside_c",
            "AMB.AmbientAirTemperature",
            watch.barometer && watch.temperatures,
        ),
    ] {
        if recorded {
            let _ = write!(
                text,
                "\n[[channel]]\nname = \"{name}\"\nsource = \"bus\"\nsignal = \"{signal}\"\n"
            );
        }
    }
}
