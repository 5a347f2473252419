//! What the model of a car at rest is given: volumes, parks, rests and their means.

/// Where the temperature of a volume comes from.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum Thermometer {
    /// A sensor in or on this very volume.
    Own,
    /// Another sensor, by name: volumes with the same name share its error.
    Far(String),
    /// No sensor.
    None,
}

/// One corner's air spring or the tank.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Volume {
    /// Name in the rig, `tank` for the tank.
    pub name: String,
    /// True for the tank.
    pub is_tank: bool,
    /// Axle of a corner; corners of one axle can pass air to each other.
    pub axle: Option<String>,
    /// Nearest thermometer.
    pub thermometer: Thermometer,
    /// True when a height and the volume by height are known.
    pub has_height: bool,
    /// True when a fill valve leads from the tank into this volume.
    pub fed_by_tank: bool,
    /// Standard uncertainty of the rig's volume, relative (0.05 = 5 %).
    pub volume_uncertainty: f64,
    /// Where a compressor cuts in, kPa gauge: of a tank whose rig says so.
    #[serde(default)]
    pub refilled_below_kpa_gauge: Option<f64>,
    /// True for the readings by hand at a place, which stand beside its sensors.
    #[serde(default)]
    pub by_hand: bool,
}

/// The last fill (+1) or dump (-1) of a volume before a rest; for the tank a run
/// of the compressor (+1) or a fill of a corner (-1).
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct OwnMove {
    /// End of the move, s of log time.
    pub end_s: f64,
    /// +1 air came, -1 air went.
    pub sign: f64,
    /// Length, s.
    pub duration_s: f64,
}

/// Lags of the relaxation of a bag behind its pressure, s.
pub(super) const CREEP_LAGS_S: [f64; 3] = [400.0, 5_000.0, 40_000.0];

/// One volume left alone, reduced to at most about 60 means of its readings.
///
/// All vectors have one entry per mean. **Units**: times s of log time, pressures
/// kPa absolute, temperatures K, volumes L, heights mm.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ModelRest {
    /// Index into [`Car::volumes`].
    pub volume: usize,
    /// Number of the park: what lies between two drives.
    pub park: usize,
    /// First reading.
    pub start_s: f64,
    /// Last reading.
    pub end_s: f64,
    /// Mean time of the readings of each mean.
    pub t_s: Vec<f64>,
    /// Pressure of the air.
    pub kpa_abs: Vec<f64>,
    /// Outside pressure.
    pub outside_kpa_abs: Vec<f64>,
    /// True when the sensor reads against the outside.
    pub gauge: bool,
    /// Volume at the height of that moment, or the rig's constant one.
    pub volume_l: Vec<f64>,
    /// Height; empty without a usable height.
    pub height_mm: Vec<f64>,
    /// dV/dh, L/mm; empty without a usable height.
    pub slope_l_per_mm: Vec<f64>,
    /// Temperature of the nearest thermometer; 288.15 without one.
    pub kelvin: Vec<f64>,
    /// Variance of ln(p V) by the noise of single readings.
    pub ln_variance: Vec<f64>,
    /// One count of the sensors, in ln(p V).
    pub ln_count: Vec<f64>,
    /// Noise of one reading over its count: below 0.7 the counts are coarse.
    pub noise_per_count: f64,
    /// Noise of one reading, kPa.
    pub reading_sd_kpa: f64,
    /// Temperature behind lags of 300, 900, 2,700, 8,100 s, each minus the faster
    /// one, K; empty without a thermometer.
    pub lag_k: Vec<Vec<f64>>,
    /// Other thermometers minus the nearest one, K, by name.
    pub other_k: Vec<(String, Vec<f64>)>,
    /// Heat of drives, 0 to 1: rises with 600 s, decays with 900, 2,700, 7,200,
    /// 18,000 s.
    pub soak: Vec<Vec<f64>>,
    /// Gauge pressure over its median behind lags of 400, 5,000, 40,000 s
    /// (`CREEP_LAGS_S`); empty for the tank.
    pub creep: Vec<Vec<f64>>,
    /// Pressures of all volumes at these times, kPa absolute, by volume; `None`
    /// where a volume has no pressure.
    pub others_kpa_abs: Vec<Option<Vec<f64>>>,
    /// Last own move before the rest.
    pub last_move: Option<OwnMove>,
    /// When the car was last levelled or driven, s of log time.
    pub levelled_s: Option<f64>,
    /// Longest silence between two readings, s.
    pub longest_silence_s: f64,
    /// Longest silence of the barometer within the rest, s; `None` without one.
    pub barometer_silence_s: Option<f64>,
}

/// All rests of one car.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
pub struct Car {
    /// Corners and tank.
    pub volumes: Vec<Volume>,
    /// Rests, in order of volume and time.
    pub rests: Vec<ModelRest>,
    /// Minute means of the outside temperature, s of log time and deg C; empty
    /// where none is recorded. Tells the hour of the sun.
    pub outside_c: Vec<(f64, f64)>,
    /// Moments at which somebody noted something, s of log time.
    #[serde(default)]
    pub notes_s: Vec<f64>,
}
