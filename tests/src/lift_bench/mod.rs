//! A car on a bench, lifted and lowered again and again: all data invented.
//!
//! Its gas, flows, valves and sensors share no code with the report. It is simpler
//! than the simulator of the sample logs, and what that one does not have is free
//! here: raster of readings and switches, valves that close sooner than they open,
//! valves that stick, lines that narrow, sensors at the manifold.

pub mod air;
mod log;
pub mod printed;
mod run;

pub use run::lifted;

use seep_sample_logs::rng::Noise;
use std::collections::BTreeMap;

/// What is recorded, and how often.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Recorded {
    /// Valve coils.
    pub wired: bool,
    /// Heights.
    pub heights: bool,
    /// Time between readings around moves, of switches too, s.
    pub raster_s: f64,
}

/// One corner.
#[derive(Debug, Clone)]
pub struct Corner {
    /// Name.
    pub name: &'static str,
    /// Volume at height 0, m³, and what the rig says, L.
    pub volume_m3: f64,
    /// See `volume_m3`.
    pub stated_volume_l: f64,
    /// Effective area, m², and what the rig says, cm².
    pub area_m2: f64,
    /// See `area_m2`.
    pub stated_area_cm2: f64,
    /// Load at height 0, N, and its growth, N/m.
    pub load_n: f64,
    /// See `load_n`.
    pub stiffness_n_m: f64,
    /// Dry friction, N.
    pub friction_n: f64,
    /// Heat to the wall with this time constant, s.
    pub heat_s: f64,
    /// Fill and dump path: conductance, L/(s·bar).
    pub c: [f64; 2],
    /// Their critical ratios.
    pub b: [f64; 2],
    /// Their valves.
    pub valves: [air::Valve; 2],
    /// From this move of the path on, what is left of each path.
    pub narrows: Option<(usize, [f64; 2])>,
    /// From this move of the path on, how much later each valve opens, s.
    pub late: Option<(usize, [f64; 2])>,
    /// Every so many openings the valve does nothing for so long, s.
    pub sticks: [Option<(usize, f64)>; 2],
    /// Line between the valves and the spring; without one the valves sit at the spring.
    pub line: Option<Line>,
}

/// Line between the manifold and a spring.
#[derive(Debug, Clone, Copy)]
pub struct Line {
    /// Its volume, m³, a part of the volume of the corner.
    pub m3: f64,
    /// Conductance, L/(s·bar), and critical ratio.
    pub c: f64,
    /// See `c`.
    pub b: f64,
    /// From this fill on, and the conductance from then, L/(s·bar).
    pub kinks: Option<(usize, f64)>,
    /// The pressure sensor sits at its manifold end.
    pub sensor_at_manifold: bool,
}

/// One standard deviation of each error of the sensors, drawn for each car.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SensorErrors {
    /// Factor of each pressure sensor, less one.
    pub pressure_span: f64,
    /// Zero of each, kPa.
    pub pressure_zero_kpa: f64,
    /// Factor of each height sensor, less one.
    pub height_span: f64,
    /// The thermometer reads another air than that of the volumes: a difference that wanders
    /// with a time constant of 20 min, K.
    pub thermometer_k: f64,
}

impl SensorErrors {
    /// What the report takes for granted where the rig says nothing: span of 0.5 % and 1 %,
    /// a zero of 0.02 % of 1,600 kPa per kelvin at 10 K from its calibration, and the air of
    /// the volumes known to 3 K. Common practice, no source.
    pub const USUAL: Self = SensorErrors {
        pressure_span: 0.005,
        pressure_zero_kpa: 3.2,
        height_span: 0.01,
        thermometer_k: 3.0,
    };
}

/// A car and what is done with it.
#[derive(Debug, Clone)]
pub struct Bench {
    /// Seed of noise and targets.
    pub seed: u64,
    /// What is recorded.
    pub recorded: Recorded,
    /// Corners.
    pub corners: Vec<Corner>,
    /// Tank, m³.
    pub tank_m3: f64,
    /// Leak of the tank and of each corner, conductance of a choked hole, L/(s·bar).
    pub leaks: Vec<f64>,
    /// Outside, Pa and K.
    pub outside: (f64, f64),
    /// Lifts and drops of each corner.
    pub moves: usize,
    /// Time from one round of moves to the next, s.
    pub round_s: f64,
    /// The car stands for so long after each turn of moves, unrecorded, s.
    pub apart_s: f64,
    /// Longest opening, s; shorter ones make pulses.
    pub longest_s: f64,
    /// Heights that are aimed at, mm: a round takes the next; empty: drawn.
    pub targets_mm: Vec<f64>,
    /// Noise of pressures, kPa, and of heights, mm.
    pub noise: (f64, f64),
    /// Step of pressures, kPa, and of heights, mm.
    pub count: (f64, f64),
    /// What its sensors are off by.
    pub sensors: SensorErrors,
    /// More lines of the rig's first part.
    pub rig: String,
}

/// What was true.
#[derive(Debug, Clone, Default)]
pub struct Truth {
    /// Conductance of each path at the start, by `place direction`, L/(s·bar).
    pub conductance: BTreeMap<String, f64>,
    /// Delivered by the compressor, ANR L.
    pub delivered_l: f64,
    /// Into each corner by its fill valve, ANR L.
    pub filled_l: Vec<f64>,
    /// Out of each corner by its dump valve, ANR L.
    pub vented_l: Vec<f64>,
    /// Leaked: tank, then corners, ANR L.
    pub leaked_l: Vec<f64>,
    /// Openings that stuck, by `place direction`.
    pub stuck: BTreeMap<String, usize>,
}

/// The table of readings, the rig, and the truth.
#[derive(Debug, Clone)]
pub struct Lifted {
    /// Rows as CSV.
    pub csv: String,
    /// Rig as TOML.
    pub rig: String,
    /// Truth.
    pub truth: Truth,
}

const NAMES: [&str; 2] = ["front_left", "rear_right"];

impl Bench {
    /// A car of a seed: sound, its valves closing sooner or later than they open.
    #[must_use]
    pub fn drawn(seed: u64, recorded: Recorded) -> Self {
        let mut d = Noise::new(seed, "lift bench");
        let corners = NAMES.map(|name| corner(name, &mut d)).to_vec();
        Bench {
            seed,
            recorded,
            leaks: vec![0.0; 1 + corners.len()],
            corners,
            tank_m3: d.between(0.012, 0.024),
            outside: (101_325.0, 293.15 + d.between(-8.0, 8.0)),
            moves: 12,
            round_s: 150.0,
            apart_s: 0.0,
            longest_s: if d.chance(0.5) {
                d.between(0.5, 1.0)
            } else {
                10.0
            },
            targets_mm: Vec::new(),
            noise: (0.3, 0.3),
            count: (0.1, 0.1),
            sensors: SensorErrors::default(),
            rig: String::new(),
        }
    }
}

/// How well the rig knows volume and area, one standard deviation: as the rig says.
pub const STATED_UNCERTAINTY: f64 = 0.03;

fn corner(name: &'static str, d: &mut Noise) -> Corner {
    let (volume_m3, area_m2) = (d.between(2.2e-3, 3.6e-3), d.between(8e-3, 12e-3));
    let off = |d: &mut Noise| 1.0 + STATED_UNCERTAINTY * d.normal();
    let valve = |d: &mut Noise| air::Valve::new(d.between(0.03, 0.13), d.between(0.01, 0.06));
    Corner {
        name,
        volume_m3,
        stated_volume_l: 1000.0 * volume_m3 * off(d),
        area_m2,
        stated_area_cm2: 1e4 * area_m2 * off(d),
        load_n: area_m2 * d.between(380e3, 560e3),
        stiffness_n_m: d.between(8e3, 22e3),
        friction_n: d.between(5.0, 30.0),
        heat_s: d.between(8.0, 18.0),
        c: [d.between(0.05, 0.12), d.between(0.07, 0.15)],
        b: [d.between(0.2, 0.42), d.between(0.2, 0.42)],
        valves: [valve(d), valve(d)],
        narrows: None,
        late: None,
        sticks: [None, None],
        line: None,
    }
}
