//! Volumes of air as the rig describes them.

use seep_common::rig::VolumeModel;

/// What is known of a volume of air.
#[derive(Debug, Clone, PartialEq)]
pub struct Vessel {
    /// Circuit, or `tank`.
    pub place: String,
    /// Volume against height.
    pub volume: VolumeModel,
    /// Part of the volume that the rig gives for the line alone, L.
    pub line_l: f64,
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

    /// True for an air spring: off its stops its volume follows its load, even
    /// where the rig gives one volume for all heights.
    #[must_use]
    pub fn is_spring(&self) -> bool {
        self.place != "tank"
    }

    /// True when the rig says how the volume follows the height.
    #[must_use]
    pub fn follows_height(&self) -> bool {
        matches!(
            self.volume,
            VolumeModel::Table { .. } | VolumeModel::Area { .. }
        )
    }

    /// True when the rig gives no volume: amounts are then in units of that volume.
    #[must_use]
    pub fn is_relative(&self) -> bool {
        matches!(self.volume, VolumeModel::Unknown)
    }
}
