//! How the car is watched: sensors, the box on the serial line, the bus.

use super::Warming;
use serde::{Deserialize, Serialize};

/// Unit in which the box sends pressures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PressureUnit {
    /// Bar, as NMEA 0183 XDR has it.
    #[default]
    Bar,
    /// Kilopascal, as a generic transducer whose unit the rig names.
    Kpa,
    /// Pounds per square inch, the same way.
    Psi,
}

/// Pressure sensors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PressureSensors {
    /// Unit in which the box sends them.
    pub unit: PressureUnit,
    /// Noise of one reading, kPa, one standard deviation.
    pub noise_kpa: f64,
    /// Full scale, kPa gauge.
    pub full_scale_kpa: f64,
    /// Bits of the converter.
    pub bits: u32,
    /// Zero offset from sensor to sensor, kPa, one standard deviation.
    pub zero_kpa: f64,
    /// Gain error from sensor to sensor, percent, one standard deviation.
    pub gain_percent: f64,
    /// Zero against temperature, kPa/K, one standard deviation.
    pub zero_kpa_per_k: f64,
    /// They sit at the springs and the tank, not in the box.
    pub at_bag: bool,
    /// Play between rising and falling pressure, kPa; 0 leaves it out.
    ///
    /// **Source**: 0.05 to 0.1 % of full scale on data sheets (common practice, no source).
    pub hysteresis_kpa: f64,
    /// One count of the circuits' converters, kPa; 0: from full scale and bits.
    pub count_kpa: f64,
    /// One count of the tank's, kPa; 0: from full scale and bits. A gauge of 8 kPa
    /// per bit is one of SAE J1939-71's (from memory, unverified).
    pub tank_count_kpa: f64,
}

impl Default for PressureSensors {
    fn default() -> Self {
        PressureSensors {
            unit: PressureUnit::default(),
            noise_kpa: 0.4,
            full_scale_kpa: 1_600.0,
            bits: 12,
            zero_kpa: 1.2,
            gain_percent: 0.15,
            zero_kpa_per_k: 0.015,
            at_bag: false,
            hysteresis_kpa: 0.0,
            count_kpa: 0.0,
            tank_count_kpa: 0.0,
        }
    }
}

/// Height sensors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct HeightSensors {
    /// Noise of one reading, mm, one standard deviation.
    pub noise_mm: f64,
    /// Full scale, mm.
    pub full_scale_mm: f64,
    /// Bits of the converter.
    pub bits: u32,
    /// Zero offset from sensor to sensor, mm, one standard deviation.
    pub zero_mm: f64,
    /// Gain error from sensor to sensor, percent, one standard deviation.
    pub gain_percent: f64,
    /// Play between rising and sinking, mm; 0 leaves it out.
    pub hysteresis_mm: f64,
}

impl Default for HeightSensors {
    fn default() -> Self {
        HeightSensors {
            noise_mm: 0.4,
            full_scale_mm: 250.0,
            bits: 10,
            zero_mm: 0.4,
            gain_percent: 0.5,
            hysteresis_mm: 0.0,
        }
    }
}

/// The small microcontroller box and its serial line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BoxLine {
    /// Time between sets at rest, s.
    pub rest_s: f64,
    /// While a compressor runs, s.
    pub run_s: f64,
    /// While driving, s.
    pub driving_s: f64,
    /// While a valve moves and for some seconds afterwards, s.
    pub move_s: f64,
    /// Time between sets of the slow channels (temperatures, volts, switches), s.
    pub slow_s: f64,
    /// Probability that a pressure or height sensor drops out for a moment, per set.
    pub dropout_chance: f64,
    /// Probability that a pressure or height is wildly off, per reading.
    pub spike_chance: f64,
    /// Times per week that a pressure or height sensor repeats its last reading
    /// for one to six hours.
    pub stuck_per_week: f64,
    /// The box writes a table (CSV) instead of sentences.
    pub table: bool,
    /// What warms the box and its outside thermometer beside the weather.
    pub warming: Warming,
}

impl Default for BoxLine {
    fn default() -> Self {
        BoxLine {
            rest_s: 30.0,
            run_s: 2.0,
            driving_s: 1.0,
            move_s: 0.2,
            slow_s: 300.0,
            dropout_chance: 2e-5,
            spike_chance: 0.0,
            stuck_per_week: 0.0,
            table: false,
            warming: Warming::default(),
        }
    }
}

/// The J1939 module on the bus.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BusSettings {
    /// Time between speed frames, s.
    pub speed_s: f64,
    /// Time between frames of the surroundings, s.
    pub ambient_s: f64,
}

impl Default for BusSettings {
    fn default() -> Self {
        BusSettings {
            speed_s: 1.0,
            ambient_s: 1.0,
        }
    }
}

/// How the car is watched.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Watch {
    /// Pressure sensors.
    pub pressure: PressureSensors,
    /// Height sensors.
    pub height: HeightSensors,
    /// The box.
    #[serde(rename = "box")]
    pub box_line: BoxLine,
    /// The bus.
    pub bus: BusSettings,
    /// Heights are recorded; if not, the rig gives one volume per circuit.
    pub heights: bool,
    /// Valves and compressors are recorded; if not, they must be inferred.
    pub switches: bool,
    /// Temperatures are recorded.
    pub temperatures: bool,
    /// With them, that of the tank.
    pub tank_temperature: bool,
    /// With them, one at each spring.
    pub bag_temperatures: bool,
    /// The speed is recorded.
    pub speed: bool,
    /// The outside pressure is recorded.
    pub barometer: bool,
}

impl Default for Watch {
    fn default() -> Self {
        Watch {
            pressure: PressureSensors::default(),
            height: HeightSensors::default(),
            box_line: BoxLine::default(),
            bus: BusSettings::default(),
            heights: true,
            switches: true,
            temperatures: true,
            tank_temperature: true,
            bag_temperatures: false,
            speed: true,
            barometer: true,
        }
    }
}
