//! Amounts of air from what was measured.

use seep_common::rig::VolumeModel;

/// Reference temperature of ANR conditions, K (ISO 8778: 20 °C).
pub const ANR_K: f64 = 293.15;

/// Reference pressure of ANR conditions, kPa absolute (ISO 8778: 100 kPa).
pub const ANR_KPA: f64 = 100.0;

/// Amount of air as the volume it takes at ANR conditions, L.
///
/// `n = p/100 kPa · V · 293.15 K/T` (ideal gas; within 0.5 % of real air over
/// the range of these systems).
///
/// **Units**: kPa absolute, L, K in; L (ANR) out.
///
/// **Source**: ideal gas law; ISO 8778 for the reference.
///
/// ```
/// use seep_report::analysis::air::amount_anr_l;
/// assert_eq!(amount_anr_l(800.0, 2.0, 293.15), 16.0);
/// ```
#[must_use]
pub fn amount_anr_l(kpa_abs: f64, volume_l: f64, kelvin: f64) -> f64 {
    kpa_abs / ANR_KPA * volume_l * ANR_K / kelvin
}

/// What is known of a volume of air.
#[derive(Debug, Clone, PartialEq)]
pub struct Vessel {
    /// Circuit, or `tank`.
    pub place: String,
    /// Volume against height.
    pub volume: VolumeModel,
    /// Uncertainty of the volume, one standard deviation, as a fraction.
    pub volume_uncertainty: f64,
    /// Height of the lower stop, mm.
    pub lower_stop_mm: Option<f64>,
    /// Height below which it is called low, mm.
    pub lowest_ok_mm: Option<f64>,
    /// Pressure below which it is called low, kPa gauge.
    pub lowest_ok_kpa_gauge: Option<f64>,
}

impl Vessel {
    /// Volume at a height, L. Without a height, the volume at height 0; without
    /// any volume in the rig, 1 L, and [`Vessel::is_relative`] says so.
    #[must_use]
    pub fn volume_l(&self, mm: f64) -> f64 {
        let at = if mm.is_nan() { 0.0 } else { mm };
        self.volume.volume_l(at).unwrap_or(1.0)
    }

    /// True when the rig gives no volume: amounts are then in units of that volume.
    #[must_use]
    pub fn is_relative(&self) -> bool {
        matches!(self.volume, VolumeModel::Unknown)
    }
}
