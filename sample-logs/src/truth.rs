//! What really happened: the answer sheet of a log.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The answer sheet. Times are Unix ms.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// Says that everything is invented.
    pub notice: String,
    /// Name of the scenario.
    pub scenario: String,
    /// What happens in it.
    pub summary: String,
    /// Seed.
    pub seed: u64,
    /// Start.
    pub start_ms: i64,
    /// End.
    pub end_ms: i64,
    /// The fault the log is about: a word of the fault list, or `none`.
    pub fault: String,
    /// Where it is; empty for `none`.
    pub place: String,
    /// Every fault with its true size.
    pub faults: Vec<TrueFault>,
    /// True dimensions.
    pub parameters: Parameters,
    /// Each opening of a valve.
    pub moves: Vec<Move>,
    /// Each run of a compressor.
    pub runs: Vec<CompressorRun>,
    /// Each stretch of at least 20 min in which the car stood with valves shut
    /// and compressors still, powered or not.
    pub rests: Vec<RestStretch>,
    /// Stretches without power, in which nothing was recorded.
    pub power_off: Vec<[i64; 2]>,
    /// Drives, ignition on to ignition off.
    pub drives: Vec<[i64; 2]>,
    /// Amounts at the start, at every change of stage and at the end.
    pub amounts: Vec<Amounts>,
    /// Net loss of each volume by leaks since the start, once a minute; too long
    /// for the file.
    #[serde(skip)]
    pub leaked: Vec<Amounts>,
    /// The whole log's ledger.
    pub ledger: Ledger,
    /// Share of recorded time each compressor ran, percent.
    pub duty_percent: BTreeMap<String, f64>,
}

/// A fault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrueFault {
    /// Kind.
    pub kind: String,
    /// Place.
    pub place: String,
    /// Sonic conductance of an orifice, L/(s·bar).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub c_l_s_bar: Option<f64>,
    /// Its critical ratio.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub b: Option<f64>,
    /// Laminar leak: ANR cm³/min per MPa² of the difference of squared pressures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub laminar_anr_cm3_min_mpa2: Option<f64>,
    /// What a restriction or wear leaves at the end, 0 to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub factor_at_end: Option<f64>,
    /// Time the leak was open, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub open_h: Option<f64>,
    /// Air lost through it, ANR L.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub passed_anr_l: Option<f64>,
}

/// True dimensions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Parameters {
    /// Tank volume, L.
    pub tank_l: f64,
    /// Per circuit.
    pub circuits: BTreeMap<String, CircuitParameters>,
    /// Free air delivery of each compressor without back pressure, ANR L/min, when new.
    pub free_air_l_min: BTreeMap<String, f64>,
}

/// True dimensions of a circuit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CircuitParameters {
    /// `[height_mm, volume_l]`.
    pub volume_at_height: Vec<[f64; 2]>,
    /// Sonic conductance of the whole fill path when sound, L/(s·bar).
    pub fill_c_l_s_bar: f64,
    /// Its critical ratio.
    pub fill_b: f64,
    /// Sonic conductance of the whole dump path when sound, L/(s·bar).
    pub dump_c_l_s_bar: f64,
    /// Its critical ratio.
    pub dump_b: f64,
    /// Lag of the valves, ms.
    pub valve_lag_ms: f64,
    /// Time constant of the air against its skin, s.
    pub heat_s: f64,
    /// Friction, N.
    pub friction_n: f64,
}

/// One opening of a valve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Move {
    /// Circuit.
    pub circuit: String,
    /// `fill` or `dump`.
    pub valve: String,
    /// Coil on.
    pub start_ms: i64,
    /// Coil off.
    pub end_ms: i64,
    /// Height at the start, mm.
    pub from_mm: f64,
    /// Height when the valve had closed, mm.
    pub to_mm: f64,
    /// Pressure at the start, kPa gauge.
    pub from_kpa_gauge: f64,
    /// Pressure when the valve had closed, kPa gauge.
    pub to_kpa_gauge: f64,
    /// Tank at the start, kPa gauge.
    pub tank_kpa_gauge: f64,
    /// Air moved, ANR L.
    pub moved_anr_l: f64,
    /// Sonic conductance of the whole path alone, fully open, L/(s·bar).
    pub path_c_l_s_bar: f64,
    /// Sonic conductance that explains the air moved (lower when several
    /// valves share the supply or the exhaust), L/(s·bar).
    pub effective_c_l_s_bar: f64,
    /// Lag of the valve, ms.
    pub lag_ms: f64,
}

/// One run of a compressor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CompressorRun {
    /// Which.
    pub compressor: String,
    /// Start.
    pub start_ms: i64,
    /// End.
    pub end_ms: i64,
    /// Why it ended: `cut_out`, `thermal`, `power` or `log_end`.
    pub ended_by: String,
    /// Tank at the start, kPa gauge.
    pub from_kpa_gauge: f64,
    /// Tank at the end, kPa gauge.
    pub to_kpa_gauge: f64,
    /// Delivered, ANR L.
    pub delivered_anr_l: f64,
    /// Mean supply voltage, V.
    pub supply_v: f64,
    /// Motor at the end, °C.
    pub motor_c: f64,
}

/// A stretch at rest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RestStretch {
    /// Start.
    pub start_ms: i64,
    /// End.
    pub end_ms: i64,
    /// Part of it without power, h.
    pub power_off_h: f64,
    /// Outside temperature, start and end, °C.
    pub outside_c: [f64; 2],
    /// `tank` and each circuit.
    pub volumes: BTreeMap<String, RestVolume>,
}

/// A volume over a stretch at rest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RestVolume {
    /// Mean net loss by leaks, ANR cm³/min; negative when it gained.
    pub leak_anr_cm3_min: f64,
    /// The same as a pressure rate at the mean volume and temperature, kPa/h.
    pub leak_kpa_h: f64,
    /// Pressure, start and end, kPa gauge.
    pub kpa_gauge: [f64; 2],
    /// Temperature of the air, start and end, °C.
    pub air_c: [f64; 2],
    /// Height, start and end, mm; not for the tank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mm: Option<[f64; 2]>,
    /// Amount, start and end, ANR L.
    pub anr_l: [f64; 2],
}

/// Amounts at a time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Amounts {
    /// When.
    pub t_ms: i64,
    /// `tank` and each circuit, ANR L.
    pub anr_l: BTreeMap<String, f64>,
}

/// Where the air went, ANR L.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Ledger {
    /// By each compressor into the tank.
    pub delivered: BTreeMap<String, f64>,
    /// From the tank into each circuit by its fill valve.
    pub filled: BTreeMap<String, f64>,
    /// From each circuit to the outside by its dump valve.
    pub dumped: BTreeMap<String, f64>,
    /// Net loss of each volume by leaks.
    pub leaked: BTreeMap<String, f64>,
}
