//! The car and its air system.

use super::Warming;
use serde::{Deserialize, Serialize};

/// The car as a whole.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Vehicle {
    /// Its name in the rig; says that it is invented.
    pub name: String,
    /// Fuel burnt while driving, kg/h, taken off the last axle's load.
    pub fuel_kg_per_h: f64,
    /// Load shifted by one millimetre of height between the two sides of an
    /// axle (anti-roll bar), N/mm.
    pub anti_roll_n_mm: f64,
    /// Load the body shifts across the diagonal by one millimetre of twist between
    /// the axles, N/mm; 0 leaves it out. Only for cars with four circuits.
    ///
    /// **Source**: 5 to 20 kN·m per degree of torsional stiffness over a track of
    /// 1.5 m are 130 to 500 N/mm at each wheel for a body alone; bushes and tyres in
    /// series leave 20 to 120 N/mm (common practice, no source).
    pub twist_n_mm: f64,
}

impl Default for Vehicle {
    fn default() -> Self {
        Vehicle {
            name: "Estate car (invented)".into(),
            fuel_kg_per_h: 4.5,
            anti_roll_n_mm: 6.0,
            twist_n_mm: 0.0,
        }
    }
}

/// The tank.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TankSpec {
    /// True volume with fittings, L.
    pub volume_l: f64,
    /// Volume as the owner states it in the rig, L.
    pub stated_volume_l: f64,
    /// Pressure at the start, kPa gauge.
    pub start_kpa_gauge: f64,
    /// Air to shell, time constant at the start pressure, s.
    pub heat_s: f64,
    /// Heat of the shell, J/K.
    pub shell_j_k: f64,
    /// Shell to the outside, time constant, s.
    pub shell_s: f64,
    /// Place where it stands against the weather, time constant, s.
    pub place_s: f64,
    /// What warms its place beside the weather.
    pub warming: Warming,
    /// Water stands in it: its air is saturated, and what it fills the circuits
    /// with carries that water.
    pub wet: bool,
}

impl Default for TankSpec {
    fn default() -> Self {
        TankSpec {
            volume_l: 19.1,
            stated_volume_l: 19.0,
            start_kpa_gauge: 1_080.0,
            heat_s: 40.0,
            shell_j_k: 1_900.0,
            shell_s: 720.0,
            place_s: 2_400.0,
            warming: Warming::default(),
            wet: false,
        }
    }
}

/// One air spring, or the pair of an axle that shares its valves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Circuit {
    /// Name, the place part of its channels.
    pub name: String,
    /// `front`, `rear` or another word.
    pub axle: String,
    /// Sprung mass it carries with an empty car, kg.
    pub mass_kg: f64,
    /// Effective area at height 0, cm².
    pub area_cm2: f64,
    /// Change of the area over 100 mm upwards, percent.
    pub taper_percent: f64,
    /// Further change of the area at ±100 mm, percent.
    pub curve_percent: f64,
    /// True volume at height 0 with line and fittings, L.
    pub volume_l: f64,
    /// How far the rig's volume table is off, percent, one standard deviation.
    pub table_error_percent: f64,
    /// Height on the lower stop, mm.
    pub lower_stop_mm: f64,
    /// Fully extended, mm.
    pub upper_stop_mm: f64,
    /// Friction, N.
    pub friction_n: f64,
    /// Damper, N·s/m.
    pub damping_n_s_m: f64,
    /// Fill valve, L/(s·bar).
    pub fill_c: f64,
    /// Its critical ratio.
    pub fill_b: f64,
    /// Dump valve, L/(s·bar).
    pub dump_c: f64,
    /// Its critical ratio.
    pub dump_b: f64,
    /// Line between manifold and spring, L/(s·bar).
    pub line_c: f64,
    /// Its critical ratio.
    pub line_b: f64,
    /// Valves answer after this, ms.
    pub valve_lag_ms: f64,
    /// And need this for their stroke, ms.
    pub valve_stroke_ms: f64,
    /// Air to the inner skin, time constant at ride height, s.
    pub heat_s: f64,
    /// Heat of the inner skin, J/K.
    pub skin_j_k: f64,
    /// Skin to the outside, time constant, s.
    pub skin_s: f64,
    /// Seepage of a sound circuit at 500 kPa gauge, ANR cm³/min.
    pub sound_anr_cm3_min: f64,
    /// Static over sliding friction; 1 leaves stick-slip out.
    ///
    /// **Source**: 1.0 to 1.5 for rubber and plain bushes (common practice, no source).
    pub stick_ratio: f64,
    /// Growth of the volume per decade of time after a rise of the pressure by
    /// 500 kPa, percent; 0 leaves it out.
    ///
    /// **Source**: creep of cord-reinforced rubber, 0.1 to 1 % per decade (common
    /// practice, no source).
    pub creep_percent_decade: f64,
    /// Growth of the volume at once, percent per 100 kPa; 0 leaves it out.
    pub stretch_percent_bar: f64,
    /// What warms its place beside the weather.
    pub warming: Warming,
}

impl Default for Circuit {
    fn default() -> Self {
        Circuit {
            name: String::new(),
            axle: String::new(),
            mass_kg: 470.0,
            area_cm2: 104.0,
            taper_percent: -4.0,
            curve_percent: 1.5,
            volume_l: 3.2,
            table_error_percent: 1.0,
            lower_stop_mm: -70.0,
            upper_stop_mm: 75.0,
            friction_n: 45.0,
            damping_n_s_m: 2_600.0,
            fill_c: 0.085,
            fill_b: 0.32,
            dump_c: 0.115,
            dump_b: 0.28,
            line_c: 0.25,
            line_b: 0.25,
            valve_lag_ms: 32.0,
            valve_stroke_ms: 12.0,
            heat_s: 14.0,
            skin_j_k: 55.0,
            skin_s: 210.0,
            sound_anr_cm3_min: 0.02,
            stick_ratio: 1.0,
            creep_percent_decade: 0.0,
            stretch_percent_bar: 0.0,
            warming: Warming::default(),
        }
    }
}

/// The four corners of the usual car.
pub(super) fn four_corners() -> Vec<Circuit> {
    let front = |name: &str, mass_kg| Circuit {
        name: name.into(),
        axle: "front".into(),
        mass_kg,
        ..Circuit::default()
    };
    let rear = |name: &str, mass_kg| Circuit {
        name: name.into(),
        axle: "rear".into(),
        mass_kg,
        area_cm2: 84.0,
        taper_percent: -5.0,
        volume_l: 2.5,
        fill_c: 0.072,
        dump_c: 0.098,
        line_c: 0.2,
        friction_n: 38.0,
        damping_n_s_m: 2_100.0,
        heat_s: 12.0,
        ..Circuit::default()
    };
    vec![
        front("front_left", 476.0),
        front("front_right", 462.0),
        rear("rear_left", 352.0),
        rear("rear_right", 344.0),
    ]
}

/// What the circuits share.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Manifold {
    /// Tank outlet, filter and supply line, L/(s·bar).
    pub supply_c: f64,
    /// Its critical ratio.
    pub supply_b: f64,
    /// Common exhaust with silencer, L/(s·bar).
    pub exhaust_c: f64,
    /// Its critical ratio.
    pub exhaust_b: f64,
}

impl Default for Manifold {
    fn default() -> Self {
        Manifold {
            supply_c: 0.75,
            supply_b: 0.3,
            exhaust_c: 0.9,
            exhaust_b: 0.35,
        }
    }
}

/// One compressor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct CompressorSpec {
    /// Name, the place part of its channel.
    pub name: String,
    /// Free air delivery without back pressure at 13.5 V, ANR L/min.
    pub free_air_l_min: f64,
    /// Back pressure at which it delivers nothing, kPa gauge.
    pub stall_kpa_gauge: f64,
    /// Heat loss in the motor, W.
    pub loss_w: f64,
    /// Heat of the motor, J/K.
    pub motor_j_k: f64,
    /// Motor to the outside, time constant, s.
    pub cooling_s: f64,
    /// The thermal switch opens at this motor temperature, °C.
    pub trip_c: f64,
    /// And closes again at this one, °C.
    pub reset_c: f64,
    /// Duty on its plate, percent of 10 min.
    pub rated_duty_percent: f64,
}

impl Default for CompressorSpec {
    fn default() -> Self {
        CompressorSpec {
            name: "compressor_1".into(),
            free_air_l_min: 46.0,
            stall_kpa_gauge: 2_300.0,
            loss_w: 170.0,
            motor_j_k: 1_700.0,
            cooling_s: 1_100.0,
            trip_c: 115.0,
            reset_c: 80.0,
            rated_duty_percent: 33.0,
        }
    }
}

pub(super) fn one_compressor() -> Vec<CompressorSpec> {
    vec![CompressorSpec::default()]
}
