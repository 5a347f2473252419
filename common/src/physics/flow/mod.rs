//! Flow through a valve, a fitting or a line by ISO 6358: sonic conductance and
//! critical pressure ratio.

mod nozzle;

pub use nozzle::{
    IdealNozzle, choked_coefficient, conductance_of_orifice_l_per_s_bar, critical_pressure_ratio,
    equivalent_orifice_mm,
};

use super::gas::{ANR_K, ANR_KPA_ABS};

/// Why a set of flow characteristics is refused.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum FlowError {
    /// Sonic conductance not positive and finite.
    #[error("sonic conductance {0} L/(s·bar) must be positive")]
    Conductance(f64),
    /// Critical pressure ratio outside 0 to 1.
    #[error("critical pressure ratio {0} must be at least 0 and below 1 (data sheets: 0.1 to 0.6)")]
    CriticalRatio(f64),
}

/// Flow characteristics of one path between two volumes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowPath {
    /// Sonic conductance C, L/(s·bar) ANR.
    pub c_l_per_s_bar: f64,
    /// Critical pressure ratio b.
    pub critical_ratio: f64,
}

impl FlowPath {
    /// A path with `C` and `b`.
    ///
    /// # Errors
    /// [`FlowError`] for a conductance or ratio outside its domain.
    ///
    /// ```
    /// use seep_common::physics::flow::FlowPath;
    /// let valve = FlowPath::new(1.0, 0.35).unwrap();
    /// // choked from 700 kPa: 7 ANR litres a second
    /// assert!((valve.anr_l_per_s(700.0, 100.0, 293.15) - 7.0).abs() < 1e-12);
    /// assert!(FlowPath::new(1.0, 1.2).is_err());
    /// ```
    pub fn new(c_l_per_s_bar: f64, critical_ratio: f64) -> Result<Self, FlowError> {
        if !(c_l_per_s_bar > 0.0 && c_l_per_s_bar.is_finite()) {
            return Err(FlowError::Conductance(c_l_per_s_bar));
        }
        if !(0.0..1.0).contains(&critical_ratio) {
            return Err(FlowError::CriticalRatio(critical_ratio));
        }
        Ok(FlowPath {
            c_l_per_s_bar,
            critical_ratio,
        })
    }

    /// Share of the choked flow that passes at a pressure ratio.
    ///
    /// 1 up to the critical ratio; `√(1 - ((p2/p1 - b)/(1 - b))²)` above it; 0
    /// from `p2 = p1` on.
    ///
    /// **Units**: kPa absolute; a fraction out. **Source**: ISO 6358-1, with
    /// the exponent 0.5 of the 1989 edition, the default of 2013.
    ///
    /// ```
    /// use seep_common::physics::flow::FlowPath;
    /// let valve = FlowPath::new(1.0, 0.3).unwrap();
    /// assert_eq!(valve.flow_share(700.0, 200.0), 1.0); // ratio 0.286: choked
    /// // half of the subsonic range: √(1 - ½²)
    /// assert!((valve.flow_share(100.0, 65.0) - 0.75_f64.sqrt()).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn flow_share(&self, up_kpa_abs: f64, down_kpa_abs: f64) -> f64 {
        let ratio = down_kpa_abs / up_kpa_abs;
        if ratio >= 1.0 {
            return 0.0;
        }
        if ratio <= self.critical_ratio {
            return 1.0;
        }
        let x = (ratio - self.critical_ratio) / (1.0 - self.critical_ratio);
        ((1.0 - x) * (1.0 + x)).sqrt()
    }

    /// Volume flow at ANR conditions:
    /// `q = C·p1·√(T0/T1)·share`.
    ///
    /// **Units**: kPa absolute, K (of the upstream air) in; ANR L/s out.
    /// **Domain**: `up > down`; otherwise 0, never backwards. **Source**:
    /// ISO 6358-1.
    ///
    /// ```
    /// use seep_common::physics::flow::FlowPath;
    /// let valve = FlowPath::new(1.0, 0.3).unwrap();
    /// let kg_per_s = valve.anr_l_per_s(700.0, 600.0, 293.15) * 1.185e-3;
    /// assert!((kg_per_s - 5.021825833e-3).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn anr_l_per_s(&self, up_kpa_abs: f64, down_kpa_abs: f64, up_k: f64) -> f64 {
        if up_kpa_abs <= down_kpa_abs {
            return 0.0;
        }
        let up_bar = up_kpa_abs / 100.0;
        let share = self.flow_share(up_kpa_abs, down_kpa_abs);
        self.c_l_per_s_bar * up_bar * (ANR_K / up_k).sqrt() * share
    }
}

/// What the pressures and the temperature contribute to a flow:
/// `ψ = p1·√(T0/T1)·share`, so that `q = C/100·ψ`.
///
/// The integral of ψ over the time a valve was open, and the air that moved,
/// give its conductance whatever tank pressure, load and step the move had.
///
/// **Units**: kPa absolute, K (upstream) in; kPa out. **Domain**: 0 when
/// `up <= down`. **Source**: ISO 6358-1.
///
/// ```
/// use seep_common::physics::flow::shape_kpa;
/// assert_eq!(shape_kpa(0.3, 700.0, 100.0, 293.15), 700.0);
/// assert_eq!(shape_kpa(0.3, 700.0, 700.0, 293.15), 0.0);
/// ```
#[must_use]
pub fn shape_kpa(critical_ratio: f64, up_kpa_abs: f64, down_kpa_abs: f64, up_k: f64) -> f64 {
    let unit = FlowPath {
        c_l_per_s_bar: ANR_KPA_ABS,
        critical_ratio,
    };
    unit.anr_l_per_s(up_kpa_abs, down_kpa_abs, up_k)
}

#[cfg(test)]
mod tests;
