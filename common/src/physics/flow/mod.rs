//! Flow through a valve, a fitting or a line by ISO 6358: sonic conductance,
//! critical pressure ratio, subsonic exponent, cracking pressure.

mod network;
mod nozzle;

pub use network::{parallel, series};
pub use nozzle::{
    IdealNozzle, choked_coefficient, conductance_of_orifice_l_per_s_bar, critical_pressure_ratio,
    equivalent_orifice_mm,
};

use super::gas::{ANR_DENSITY_KG_PER_M3, ANR_K, ANR_KPA_ABS, MOL_PER_ANR_L};

/// Subsonic exponent of ISO 6358:1989, and the default of the 2013 edition.
pub const SUBSONIC_EXPONENT: f64 = 0.5;

/// Why a set of flow characteristics is refused.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum FlowError {
    /// Sonic conductance not positive and finite.
    #[error("sonic conductance {0} L/(s·bar) must be positive")]
    Conductance(f64),
    /// Critical pressure ratio outside 0 to 1.
    #[error("critical pressure ratio {0} must be at least 0 and below 1 (data sheets: 0.1 to 0.6)")]
    CriticalRatio(f64),
    /// Exponent not in the range ISO 6358 fits give.
    #[error("subsonic exponent {0} must be above 0 and below 1 (data sheets: 0.48 to 0.6)")]
    Exponent(f64),
    /// Cracking pressure negative or not finite.
    #[error("cracking pressure {0} kPa must not be negative")]
    Cracking(f64),
}

/// Flow characteristics of one path between two volumes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowPath {
    /// Sonic conductance C, L/(s·bar) ANR.
    pub c_l_per_s_bar: f64,
    /// Critical pressure ratio b.
    pub critical_ratio: f64,
    /// Subsonic exponent m.
    pub exponent: f64,
    /// Pressure difference that opens the path, kPa; zero except for check
    /// valves.
    pub cracking_kpa: f64,
}

impl FlowPath {
    /// A path with `C` and `b`, exponent 0.5, no cracking pressure.
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
            exponent: SUBSONIC_EXPONENT,
            cracking_kpa: 0.0,
        })
    }

    /// The same path with a fitted subsonic exponent (ISO 6358-1:2013).
    ///
    /// # Errors
    /// [`FlowError::Exponent`] outside 0 to 1.
    ///
    /// ```
    /// use seep_common::physics::flow::FlowPath;
    /// let valve = FlowPath::new(1.0, 0.3).unwrap().with_exponent(0.55).unwrap();
    /// assert!(valve.flow_share(700.0, 600.0) < FlowPath::new(1.0, 0.3).unwrap().flow_share(700.0, 600.0));
    /// assert!(valve.with_exponent(1.5).is_err());
    /// ```
    pub fn with_exponent(self, exponent: f64) -> Result<Self, FlowError> {
        if exponent > 0.0 && exponent < 1.0 {
            Ok(FlowPath { exponent, ..self })
        } else {
            Err(FlowError::Exponent(exponent))
        }
    }

    /// The same path behind a check valve that opens at a pressure difference.
    ///
    /// # Errors
    /// [`FlowError::Cracking`] when negative.
    ///
    /// ```
    /// use seep_common::physics::flow::FlowPath;
    /// let check = FlowPath::new(1.0, 0.3).unwrap().with_cracking_kpa(10.0).unwrap();
    /// assert_eq!(check.anr_l_per_s(700.0, 695.0, 293.15), 0.0);
    /// assert!(check.anr_l_per_s(700.0, 685.0, 293.15) > 0.0);
    /// ```
    pub fn with_cracking_kpa(self, cracking_kpa: f64) -> Result<Self, FlowError> {
        if cracking_kpa >= 0.0 && cracking_kpa.is_finite() {
            Ok(FlowPath {
                cracking_kpa,
                ..self
            })
        } else {
            Err(FlowError::Cracking(cracking_kpa))
        }
    }

    /// Share of the choked flow that passes at a pressure ratio.
    ///
    /// 1 up to the critical ratio; `[1 - ((p2/p1 - b)/(1 - Δpc/p1 - b))²]^m`
    /// above it; 0 from `p1 - Δpc` on. Where the cracking pressure leaves no
    /// subsonic range (`1 - Δpc/p1 <= b`) the path is open or shut.
    ///
    /// **Units**: kPa absolute; a fraction out. **Source**: ISO 6358-1; the
    /// cracking-pressure form is from memory of the 2013 edition.
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
        let shut = 1.0 - self.cracking_kpa / up_kpa_abs;
        if ratio >= shut {
            return 0.0;
        }
        if ratio <= self.critical_ratio {
            return 1.0;
        }
        let x = (ratio - self.critical_ratio) / (shut - self.critical_ratio);
        let inside = (1.0 - x) * (1.0 + x);
        // The usual exponent is worth its own line: a square root is exact on
        // every machine and many times faster.
        #[allow(clippy::float_cmp)]
        if self.exponent == SUBSONIC_EXPONENT {
            inside.sqrt()
        } else {
            libm::pow(inside, self.exponent)
        }
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

    /// Flow from `a` to `b`, negative when it runs from `b` to `a`.
    ///
    /// A check valve (cracking pressure above zero) passes nothing backwards.
    ///
    /// **Units**: kPa absolute, K on each side; ANR L/s out.
    ///
    /// ```
    /// use seep_common::physics::flow::FlowPath;
    /// let valve = FlowPath::new(1.0, 0.3).unwrap();
    /// assert!((valve.net_anr_l_per_s((100.0, 293.15), (700.0, 293.15)) + 7.0).abs() < 1e-12);
    /// let check = valve.with_cracking_kpa(5.0).unwrap();
    /// assert_eq!(check.net_anr_l_per_s((100.0, 293.15), (700.0, 293.15)), 0.0);
    /// ```
    #[must_use]
    pub fn net_anr_l_per_s(&self, a: (f64, f64), b: (f64, f64)) -> f64 {
        if a.0 >= b.0 {
            self.anr_l_per_s(a.0, b.0, a.1)
        } else if self.cracking_kpa > 0.0 {
            0.0
        } else {
            -self.anr_l_per_s(b.0, a.0, b.1)
        }
    }

    /// Mass flow as the standard writes it: `ṁ = C·p1·ρ0·√(T0/T1)·share`,
    /// ρ0 = 1.185 kg/m³.
    ///
    /// **Units**: kPa absolute, K in; kg/s out. **Source**: ISO 6358-1.
    ///
    /// ```
    /// use seep_common::physics::flow::FlowPath;
    /// let valve = FlowPath::new(1.0, 0.35).unwrap();
    /// assert!((valve.mass_kg_per_s(700.0, 100.0, 293.15) - 0.008295).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn mass_kg_per_s(&self, up_kpa_abs: f64, down_kpa_abs: f64, up_k: f64) -> f64 {
        self.anr_l_per_s(up_kpa_abs, down_kpa_abs, up_k) * ANR_DENSITY_KG_PER_M3 * 1e-3
    }

    /// Amount flow of an ideal gas: `ṅ = q·p0/(R·T0)`.
    ///
    /// **Units**: kPa absolute, K in; mol/s out.
    ///
    /// ```
    /// use seep_common::physics::flow::FlowPath;
    /// let valve = FlowPath::new(1.0, 0.35).unwrap();
    /// assert!((valve.mol_per_s(100.0, 0.0, 293.15) - 0.0410276).abs() < 1e-7);
    /// ```
    #[must_use]
    pub fn mol_per_s(&self, up_kpa_abs: f64, down_kpa_abs: f64, up_k: f64) -> f64 {
        self.anr_l_per_s(up_kpa_abs, down_kpa_abs, up_k) * MOL_PER_ANR_L
    }
}

/// What the pressures and the temperature contribute to a flow:
/// `ψ = p1·√(T0/T1)·share`, so that `q = C/100·ψ`.
///
/// The integral of ψ over the time a valve was open, and the air that moved,
/// give its conductance whatever tank pressure, load and step the move had.
///
/// **Units**: kPa absolute, K (upstream) in; kPa out. **Domain**: 0 when
/// `up <= down`; exponent 0.5. **Source**: ISO 6358-1.
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
        exponent: SUBSONIC_EXPONENT,
        cracking_kpa: 0.0,
    };
    unit.anr_l_per_s(up_kpa_abs, down_kpa_abs, up_k)
}

/// Sonic conductance of a path from one flow measured through it:
/// `C = q/(p1·√(T0/T1)·share)`.
///
/// **Units**: ANR L/s, kPa absolute, K in; L/(s·bar) out. `None` when the
/// pressures drive no flow. **Source**: ISO 6358-1 solved for C.
///
/// ```
/// use seep_common::physics::flow::conductance_l_per_s_bar;
/// let c = conductance_l_per_s_bar(7.0, 0.3, 700.0, 100.0, 293.15);
/// assert_eq!(c, Some(1.0));
/// ```
#[must_use]
pub fn conductance_l_per_s_bar(
    anr_l_per_s: f64,
    critical_ratio: f64,
    up_kpa_abs: f64,
    down_kpa_abs: f64,
    up_k: f64,
) -> Option<f64> {
    let shape = shape_kpa(critical_ratio, up_kpa_abs, down_kpa_abs, up_k);
    (shape > 0.0).then(|| anr_l_per_s / shape * 100.0)
}

#[cfg(test)]
mod tests;
