//! The rig as written: every key a rig file may hold, nothing resolved.

use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawRig {
    pub vehicle: RawVehicle,
    pub tank: Option<Spanned<RawTank>>,
    #[serde(default)]
    pub circuit: Vec<Spanned<RawCircuit>>,
    #[serde(default)]
    pub position: Vec<Spanned<RawPosition>>,
    #[serde(default)]
    pub compressor: Vec<Spanned<RawCompressor>>,
    #[serde(default)]
    pub limits: Option<Spanned<RawLimits>>,
    #[serde(default)]
    pub source: Vec<Spanned<RawSource>>,
    #[serde(default)]
    pub channel: Vec<Spanned<RawChannel>>,
    pub recorder: Option<Spanned<RawRecorder>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawVehicle {
    pub name: String,
    pub altitude_m: Option<f64>,
    #[serde(default)]
    pub invented: bool,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawTank {
    pub volume_l: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawCircuit {
    pub name: String,
    pub axle: Option<String>,
    pub sides: Option<[String; 2]>,
    pub volume_l: Option<f64>,
    pub volume_at_height: Option<Vec<[f64; 2]>>,
    pub effective_area_cm2: Option<f64>,
    pub volume_at_zero_height_l: Option<f64>,
    pub line_volume_cm3: Option<f64>,
    pub sensor_at: Option<String>,
    pub volume_uncertainty_percent: Option<f64>,
    pub reference_mm: Option<[f64; 2]>,
    pub reference_kpa_gauge: Option<[f64; 2]>,
    pub lower_stop_mm: Option<f64>,
    pub upper_stop_mm: Option<f64>,
    pub lowest_ok_mm: Option<f64>,
    pub lowest_ok_kpa_gauge: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawPosition {
    pub name: String,
    pub mm: BTreeMap<String, f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawCompressor {
    pub name: String,
    pub rated_duty_percent: Option<f64>,
    pub rated_window_min: Option<f64>,
    pub delivers: Option<bool>,
}

#[derive(Debug, Deserialize, Default)]
#[serde(deny_unknown_fields)]
pub(super) struct RawLimits {
    pub cut_in_kpa_gauge: Option<f64>,
    pub cut_out_kpa_gauge: Option<f64>,
    pub reference_tank_kpa_gauge: Option<f64>,
    pub height_tolerance_mm: Option<f64>,
    pub pressure_tolerance_kpa: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawSource {
    pub name: String,
    pub kind: String,
    pub interface: Option<String>,
    pub dbc: Option<Vec<String>>,
    pub device: Option<String>,
    pub baud: Option<u32>,
    pub unit_id: Option<u8>,
    pub poll_ms: Option<u64>,
    pub timeout_ms: Option<u64>,
    pub time_column: Option<String>,
    pub time_format: Option<String>,
    pub zone: Option<String>,
    pub delimiter: Option<char>,
    pub silence_s: Option<f64>,
    pub sleeps_with_ignition: Option<bool>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawChannel {
    pub name: String,
    pub source: String,
    pub signal: Option<String>,
    pub transducer: Option<String>,
    pub column: Option<String>,
    pub register: Option<u16>,
    pub table: Option<String>,
    pub number: Option<String>,
    pub word_order: Option<String>,
    pub unit: Option<String>,
    pub calibrate: Option<Spanned<RawCalibrate>>,
    pub on_when: Option<Spanned<RawOnWhen>>,
    pub resolution: Option<f64>,
    pub range: Option<[f64; 2]>,
    pub noise: Option<f64>,
    pub full_scale: Option<f64>,
    pub span_percent: Option<f64>,
    pub temperature_percent_per_k: Option<f64>,
    pub hysteresis_percent: Option<f64>,
    pub quantum: Option<f64>,
    pub period_s: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawCalibrate {
    pub two_point: Option<[[f64; 2]; 2]>,
    pub ratiometric: Option<RawRatiometric>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawRatiometric {
    pub supply_v: f64,
    pub low_fraction: f64,
    pub low: f64,
    pub high_fraction: f64,
    pub high: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawOnWhen {
    pub above: Option<f64>,
    pub below: Option<f64>,
    pub equals: Option<f64>,
}

#[derive(Debug, Deserialize, Default)]
#[serde(deny_unknown_fields)]
pub(super) struct RawRecorder {
    pub commit_s: Option<f64>,
    pub rest_commit_s: Option<f64>,
    pub rest_after_s: Option<f64>,
    pub full_rate_hz: Option<f64>,
    pub driving_rate_hz: Option<f64>,
    pub rest_period_s: Option<f64>,
    pub before_activity_s: Option<f64>,
    pub after_activity_s: Option<f64>,
    pub power_off_s: Option<f64>,
    pub keep_days: Option<f64>,
    pub keep_free_mb: Option<u64>,
}
