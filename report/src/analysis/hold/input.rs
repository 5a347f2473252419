//! What a hold is judged from.

/// Readings of one volume during a hold, in time order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Readings {
    /// Time since the start of the hold, s.
    pub t_s: Vec<f64>,
    /// Pressure, kPa absolute.
    pub kpa_abs: Vec<f64>,
    /// Volume at each reading's height, L. Empty where it is fixed or not known.
    pub volume_l: Vec<f64>,
}

/// Whether a volume can change its size while it loses air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AirSpring {
    /// A tank: its volume is fixed.
    No,
    /// A corner whose height is recorded.
    HeightRecorded,
    /// A corner without a height: off its stops it sinks at steady pressure, so that a
    /// fall of pressure is a lower bound of the loss.
    NoHeight,
}

/// The temperature beside a hold, as its trend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HoldThermometer {
    /// No temperature is recorded.
    None,
    /// A sensor elsewhere (ambient, another volume): trend and its standard error, K/s.
    Elsewhere(f64, f64),
    /// A sensor at this volume: trend and its standard error, K/s.
    Own(f64, f64),
}

/// What is known about a hold apart from its readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Tank, or corner with or without height.
    pub spring: AirSpring,
    /// Time from the volume's own last fill, dump or run to the first reading, s.
    /// `None` where no log shows it: the move is then taken to have just ended.
    pub since_move_s: Option<f64>,
    /// Temperature trend.
    pub thermometer: HoldThermometer,
    /// Mean temperature of the air, K.
    pub kelvin: f64,
    /// Pressure outside, kPa absolute.
    pub outside_kpa_abs: f64,
    /// Whether a barometer is recorded (or the sensor reads absolute pressure).
    pub outside_recorded: bool,
    /// Hysteresis of the pressure sensor, kPa.
    pub hysteresis_kpa: f64,
    /// Shift of its zero with its temperature, kPa/K.
    pub zero_kpa_per_k: f64,
    /// One count of the pressure reading, kPa; 0 where it is not known.
    pub step_kpa: f64,
}
