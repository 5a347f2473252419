//! From what the sensor says to what it means.

/// Line between two known points, or a threshold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibration {
    /// Value per unit of raw.
    pub gain: f64,
    /// Value at raw 0.
    pub offset: f64,
    /// Raw values between which it was calibrated, lower first; `None` when the
    /// rig gives no calibration.
    pub raw_range: Option<(f64, f64)>,
}

impl Default for Calibration {
    fn default() -> Self {
        Calibration {
            gain: 1.0,
            offset: 0.0,
            raw_range: None,
        }
    }
}

impl Calibration {
    /// The line through two `(raw, value)` points. `None` when the raws are equal.
    ///
    /// ```
    /// use seep_common::rig::Calibration;
    /// let c = Calibration::two_point([0.5, 0.0], [4.5, 1000.0]).unwrap();
    /// assert_eq!(c.apply(2.5), 500.0);
    /// ```
    #[must_use]
    pub fn two_point(a: [f64; 2], b: [f64; 2]) -> Option<Self> {
        let gain = (b[1] - a[1]) / (b[0] - a[0]);
        gain.is_finite().then_some(Calibration {
            gain,
            offset: a[1] - gain * a[0],
            raw_range: Some((a[0].min(b[0]), a[0].max(b[0]))),
        })
    }

    /// Value of a raw reading: `gain · raw + offset`.
    #[must_use]
    pub fn apply(&self, raw: f64) -> f64 {
        self.gain * raw + self.offset
    }
}

/// When a reading of another kind counts as *on* for a switch channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OnWhen {
    /// Above this value.
    Above(f64),
    /// Below this value.
    Below(f64),
    /// Equal to this value.
    Equals(f64),
}

impl OnWhen {
    /// 1 when the reading means on, else 0.
    #[must_use]
    pub fn apply(&self, raw: f64) -> f64 {
        let on = match *self {
            OnWhen::Above(limit) => raw > limit,
            OnWhen::Below(limit) => raw < limit,
            OnWhen::Equals(value) => (raw - value).abs() <= f64::EPSILON * value.abs().max(1.0),
        };
        f64::from(u8::from(on))
    }
}
