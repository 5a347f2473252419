//! Volume of a circuit against its height, smooth, with slope and inverse.

use super::interp::{CurveError, MonotoneCurve};
use crate::rig::VolumeModel;

/// How much air a circuit holds at a height.
#[derive(Debug, Clone, PartialEq)]
pub enum VolumeCurve {
    /// The same at every height, L.
    Fixed(f64),
    /// `V = V0 + A·h`.
    Area {
        /// Volume at height 0 mm (dead volume with lines and fittings), L.
        at_zero_l: f64,
        /// Effective area, cm².
        effective_area_cm2: f64,
    },
    /// Measured points (mm, L) joined by a smooth rising curve.
    Table(MonotoneCurve),
}

impl VolumeCurve {
    /// A curve through measured volumes, L, at rising heights, mm.
    ///
    /// # Errors
    /// [`CurveError`] for a table that does not rise.
    ///
    /// ```
    /// use seep_common::physics::spring::VolumeCurve;
    /// assert!(VolumeCurve::table(&[-50.0, 0.0, 50.0], &[1.0, 2.0, 3.5]).is_ok());
    /// let falling = VolumeCurve::table(&[-50.0, 0.0], &[2.0, 1.0]);
    /// assert_eq!(falling.unwrap_err().to_string(), "value 1 of the table falls below the one before");
    /// ```
    pub fn table(height_mm: &[f64], volume_l: &[f64]) -> Result<Self, CurveError> {
        MonotoneCurve::new(height_mm, volume_l).map(VolumeCurve::Table)
    }

    /// The curve of a circuit in the rig; `None` when the rig gives no volume.
    ///
    /// # Errors
    /// [`CurveError`] for a table that does not rise (a checked rig has none).
    ///
    /// ```
    /// use seep_common::physics::spring::VolumeCurve;
    /// use seep_common::rig::VolumeModel;
    /// let model = VolumeModel::Area { volume_at_zero_height_l: 2.0, effective_area_cm2: 100.0 };
    /// let curve = VolumeCurve::from_rig(&model).unwrap().unwrap();
    /// assert_eq!(curve.volume_l(50.0), 2.5);
    /// ```
    pub fn from_rig(model: &VolumeModel) -> Result<Option<Self>, CurveError> {
        Ok(match model {
            VolumeModel::Unknown => None,
            VolumeModel::Fixed { volume_l } => Some(VolumeCurve::Fixed(*volume_l)),
            VolumeModel::Area {
                volume_at_zero_height_l,
                effective_area_cm2,
            } => Some(VolumeCurve::Area {
                at_zero_l: *volume_at_zero_height_l,
                effective_area_cm2: *effective_area_cm2,
            }),
            VolumeModel::Table {
                height_mm,
                volume_l,
            } => Some(Self::table(height_mm, volume_l)?),
        })
    }

    /// Volume at a height.
    ///
    /// **Units**: mm in, L out (1 cm²·mm = 1e-4 L). **Domain**: between the
    /// stops; a table goes on straight beyond its ends.
    ///
    /// ```
    /// use seep_common::physics::spring::VolumeCurve;
    /// let curve = VolumeCurve::table(&[-50.0, 0.0, 50.0], &[1.0, 2.0, 3.5]).unwrap();
    /// assert_eq!(curve.volume_l(0.0), 2.0);
    /// ```
    #[must_use]
    pub fn volume_l(&self, height_mm: f64) -> f64 {
        match self {
            VolumeCurve::Fixed(volume_l) => *volume_l,
            VolumeCurve::Area {
                at_zero_l,
                effective_area_cm2,
            } => at_zero_l + effective_area_cm2 * height_mm * 1e-4,
            VolumeCurve::Table(curve) => curve.value(height_mm),
        }
    }

    /// Slope of the volume, dV/dh.
    ///
    /// **Units**: mm in, L/mm out (times 1e4: the area in cm² the volume grows
    /// by).
    ///
    /// ```
    /// use seep_common::physics::spring::VolumeCurve;
    /// let bag = VolumeCurve::Area { at_zero_l: 2.0, effective_area_cm2: 100.0 };
    /// assert!((bag.slope_l_per_mm(30.0) - 0.01).abs() < 1e-15);
    /// assert_eq!(VolumeCurve::Fixed(20.0).slope_l_per_mm(0.0), 0.0);
    /// ```
    #[must_use]
    pub fn slope_l_per_mm(&self, height_mm: f64) -> f64 {
        match self {
            VolumeCurve::Fixed(_) => 0.0,
            VolumeCurve::Area {
                effective_area_cm2, ..
            } => effective_area_cm2 * 1e-4,
            VolumeCurve::Table(curve) => curve.slope(height_mm),
        }
    }

    /// Height of a volume; `None` where the volume does not depend on height.
    ///
    /// **Units**: L in, mm out.
    ///
    /// ```
    /// use seep_common::physics::spring::VolumeCurve;
    /// let curve = VolumeCurve::Area { at_zero_l: 2.0, effective_area_cm2: 100.0 };
    /// assert!((curve.height_mm(2.5).unwrap() - 50.0).abs() < 1e-9);
    /// assert_eq!(VolumeCurve::Fixed(2.0).height_mm(2.0), None);
    /// ```
    #[must_use]
    pub fn height_mm(&self, volume_l: f64) -> Option<f64> {
        match self {
            VolumeCurve::Fixed(_) => None,
            VolumeCurve::Area {
                at_zero_l,
                effective_area_cm2,
            } => Some((volume_l - at_zero_l) / (effective_area_cm2 * 1e-4)),
            VolumeCurve::Table(curve) => curve.inverse(volume_l),
        }
    }
}
