//! Volume of a circuit against its height.

/// How much air a circuit holds at a height.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub enum VolumeModel {
    /// The rig does not say: amounts are relative, flows unknown.
    Unknown,
    /// The same volume at every height, L.
    Fixed {
        /// Volume, L.
        volume_l: f64,
    },
    /// Straight lines between measured points, heights rising.
    Table {
        /// Heights, mm, strictly rising.
        height_mm: Vec<f64>,
        /// Volumes, L, never falling.
        volume_l: Vec<f64>,
    },
    /// Constant effective area: `V = V0 + A·h`.
    Area {
        /// Volume at height 0 mm, L.
        volume_at_zero_height_l: f64,
        /// Effective area, cm².
        effective_area_cm2: f64,
    },
}

impl VolumeModel {
    /// Volume at a height.
    ///
    /// Outside a table the end segment is continued, never below a tenth of
    /// the smallest listed volume.
    ///
    /// **Units**: mm in, L out; 1 cm² × 1 mm = 1e-4 L.
    ///
    /// ```
    /// use seep_common::rig::VolumeModel;
    /// let table = VolumeModel::Table {
    ///     height_mm: vec![-50.0, 0.0, 50.0],
    ///     volume_l: vec![1.0, 2.0, 3.5],
    /// };
    /// assert_eq!(table.volume_l(25.0), Some(2.75));
    /// assert_eq!(VolumeModel::Unknown.volume_l(0.0), None);
    /// ```
    #[must_use]
    pub fn volume_l(&self, at_mm: f64) -> Option<f64> {
        match self {
            VolumeModel::Unknown => None,
            VolumeModel::Fixed { volume_l } => Some(*volume_l),
            VolumeModel::Area {
                volume_at_zero_height_l,
                effective_area_cm2,
            } => Some(
                (volume_at_zero_height_l + effective_area_cm2 * at_mm * 1e-4)
                    .max(volume_at_zero_height_l * 0.1),
            ),
            VolumeModel::Table {
                height_mm,
                volume_l,
            } => {
                let i = segment(height_mm, at_mm);
                let slope = (volume_l[i + 1] - volume_l[i]) / (height_mm[i + 1] - height_mm[i]);
                Some((volume_l[i] + slope * (at_mm - height_mm[i])).max(volume_l[0] * 0.1))
            }
        }
    }

    /// Slope of the volume at a height, L/mm.
    #[must_use]
    pub fn slope_l_per_mm(&self, at_mm: f64) -> Option<f64> {
        match self {
            VolumeModel::Unknown => None,
            VolumeModel::Fixed { .. } => Some(0.0),
            VolumeModel::Area {
                effective_area_cm2, ..
            } => Some(effective_area_cm2 * 1e-4),
            VolumeModel::Table {
                height_mm,
                volume_l,
            } => {
                let i = segment(height_mm, at_mm);
                Some((volume_l[i + 1] - volume_l[i]) / (height_mm[i + 1] - height_mm[i]))
            }
        }
    }

    /// The same with the volume of a line added at every height.
    ///
    /// **Units**: cm³ in.
    ///
    /// ```
    /// use seep_common::rig::VolumeModel;
    /// let with = VolumeModel::Fixed { volume_l: 3.0 }.with_line_cm3(85.0);
    /// assert_eq!(with, VolumeModel::Fixed { volume_l: 3.085 });
    /// ```
    #[must_use]
    pub fn with_line_cm3(mut self, line_cm3: f64) -> Self {
        let line_l = line_cm3 / 1000.0;
        match &mut self {
            VolumeModel::Unknown => {}
            VolumeModel::Fixed { volume_l } => *volume_l += line_l,
            VolumeModel::Table { volume_l, .. } => volume_l.iter_mut().for_each(|v| *v += line_l),
            VolumeModel::Area {
                volume_at_zero_height_l,
                ..
            } => *volume_at_zero_height_l += line_l,
        }
        self
    }

    /// True when the volume depends on height.
    #[must_use]
    pub fn needs_height(&self) -> bool {
        matches!(self, VolumeModel::Table { .. } | VolumeModel::Area { .. })
    }
}

/// Index of the table segment that holds `at_mm` (end segments continue).
fn segment(height_mm: &[f64], at_mm: f64) -> usize {
    let after = height_mm.partition_point(|&h| h <= at_mm);
    after.saturating_sub(1).min(height_mm.len() - 2)
}
