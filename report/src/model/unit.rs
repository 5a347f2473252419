//! Quantity and unit of a printed number.

use serde::{Deserialize, Serialize};

/// Quantity and unit in one word: the analysis fixes both together.
///
/// The JSON form spells the unit, so a reader needs no other table. All flows
/// and amounts of air are at the ANR reference, 20 °C and 100 kPa (ISO 8778).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Unit {
    /// Pressure above the surrounding air.
    #[serde(rename = "kPa gauge")]
    KpaGauge,
    /// Absolute pressure.
    #[serde(rename = "kPa absolute")]
    KpaAbs,
    /// Difference of two pressures.
    #[serde(rename = "kPa difference")]
    KpaDifference,
    /// Rate of pressure change.
    #[serde(rename = "kPa/h")]
    KpaPerHour,
    /// Slow rate of pressure change.
    #[serde(rename = "kPa/d")]
    KpaPerDay,
    /// Fast rate of pressure change.
    #[serde(rename = "kPa/s")]
    KpaPerSecond,
    /// Height, or difference of heights.
    #[serde(rename = "mm")]
    Mm,
    /// Rate of height change.
    #[serde(rename = "mm/h")]
    MmPerHour,
    /// Slow rate of height change.
    #[serde(rename = "mm/d")]
    MmPerDay,
    /// Fast rate of height change.
    #[serde(rename = "mm/s")]
    MmPerSecond,
    /// Diameter of the hole that would leak as much.
    #[serde(rename = "µm")]
    Micrometre,
    /// Temperature.
    #[serde(rename = "°C")]
    Celsius,
    /// Difference of two temperatures.
    #[serde(rename = "K")]
    KelvinDifference,
    /// Length of time, in seconds; printed in s, min, h or d as it fits.
    #[serde(rename = "s")]
    Seconds,
    /// Trend of a length of time.
    #[serde(rename = "s/d")]
    SecondsPerDay,
    /// Flow of free air.
    #[serde(rename = "cm³/min ANR")]
    AnrCm3PerMin,
    /// Flow of free air, compressor size.
    #[serde(rename = "L/min ANR")]
    AnrLitresPerMin,
    /// Amount of free air.
    #[serde(rename = "L ANR")]
    AnrLitres,
    /// Geometric volume.
    #[serde(rename = "L")]
    Litres,
    /// Sonic conductance C of ISO 6358.
    #[serde(rename = "dm³/(s·bar)")]
    SonicConductance,
    /// Trend of a sonic conductance.
    #[serde(rename = "dm³/(s·bar)/d")]
    SonicConductancePerDay,
    /// Share, in percent (12.5 means 12.5 %).
    #[serde(rename = "%")]
    Percent,
    /// Trend in percent per day.
    #[serde(rename = "%/d")]
    PercentPerDay,
    /// Difference of two shares.
    #[serde(rename = "percentage points")]
    PercentPoints,
    /// Number of things.
    #[serde(rename = "count")]
    Count,
    /// Events per hour.
    #[serde(rename = "1/h")]
    PerHour,
    /// Events per day.
    #[serde(rename = "1/d")]
    PerDay,
    /// Pure number (ratio, test statistic, critical pressure ratio b).
    #[serde(rename = "1")]
    One,
    /// Voltage.
    #[serde(rename = "V")]
    Volt,
    /// Current.
    #[serde(rename = "A")]
    Ampere,
    /// Speed over ground.
    #[serde(rename = "km/h")]
    KmPerHour,
    /// Sampling rate.
    #[serde(rename = "Hz")]
    Hertz,
    /// Data size.
    #[serde(rename = "byte")]
    Bytes,
}

impl Unit {
    /// Every unit, for tables and tests.
    pub const ALL: [Unit; 33] = [
        Unit::KpaGauge,
        Unit::KpaAbs,
        Unit::KpaDifference,
        Unit::KpaPerHour,
        Unit::KpaPerDay,
        Unit::KpaPerSecond,
        Unit::Mm,
        Unit::MmPerHour,
        Unit::MmPerDay,
        Unit::MmPerSecond,
        Unit::Micrometre,
        Unit::Celsius,
        Unit::KelvinDifference,
        Unit::Seconds,
        Unit::SecondsPerDay,
        Unit::AnrCm3PerMin,
        Unit::AnrLitresPerMin,
        Unit::AnrLitres,
        Unit::Litres,
        Unit::SonicConductance,
        Unit::SonicConductancePerDay,
        Unit::Percent,
        Unit::PercentPerDay,
        Unit::PercentPoints,
        Unit::Count,
        Unit::PerHour,
        Unit::PerDay,
        Unit::One,
        Unit::Volt,
        Unit::Ampere,
        Unit::KmPerHour,
        Unit::Hertz,
        Unit::Bytes,
    ];
}
