//! The ideal nozzle: what a hole of a known size passes, and the hole behind a
//! measured conductance.

use crate::physics::gas::{ANR_DENSITY_KG_PER_M3, ANR_K, IdealGas};
use std::f64::consts::PI;

/// Pressure ratio at which an ideal nozzle chokes: `(2/(k+1))^(k/(k-1))`.
///
/// Real valves and fittings have a smaller one (0.1 to 0.5).
///
/// **Domain**: k > 1. **Source**: isentropic flow.
///
/// ```
/// use seep_common::physics::flow::critical_pressure_ratio;
/// assert!((critical_pressure_ratio(1.4) - 0.5282817877171742).abs() < 1e-15);
/// ```
#[must_use]
pub fn critical_pressure_ratio(k: f64) -> f64 {
    libm::pow(2.0 / (k + 1.0), k / (k - 1.0))
}

/// Choked flow coefficient of an ideal nozzle:
/// `√k·(2/(k+1))^((k+1)/(2(k-1)))`.
///
/// **Domain**: k > 1. **Source**: isentropic flow; 40 CFR 1065.640 tabulates it.
///
/// ```
/// use seep_common::physics::flow::choked_coefficient;
/// assert!((choked_coefficient(1.4) - 0.6847314563772704).abs() < 1e-15);
/// ```
#[must_use]
pub fn choked_coefficient(k: f64) -> f64 {
    k.sqrt() * libm::pow(2.0 / (k + 1.0), (k + 1.0) / (2.0 * (k - 1.0)))
}

/// A hole with isentropic flow and a discharge coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IdealNozzle {
    /// Throat area, mm².
    pub area_mm2: f64,
    /// Discharge coefficient; 1 for an ideal nozzle, about 0.6 to 0.9 for a
    /// sharp-edged hole.
    pub discharge_coefficient: f64,
    /// The gas.
    pub gas: IdealGas,
}

impl IdealNozzle {
    /// A round hole in dry air.
    ///
    /// **Units**: mm.
    ///
    /// ```
    /// use seep_common::physics::flow::IdealNozzle;
    /// assert!((IdealNozzle::round_mm(2.0, 0.8).area_mm2 - 3.14159).abs() < 1e-5);
    /// ```
    #[must_use]
    pub fn round_mm(diameter_mm: f64, discharge_coefficient: f64) -> Self {
        IdealNozzle {
            area_mm2: PI / 4.0 * diameter_mm * diameter_mm,
            discharge_coefficient,
            gas: IdealGas::DRY_AIR,
        }
    }

    /// Flow coefficient at a pressure ratio; constant below the critical one:
    /// `√(2k/(k-1)·(r^(2/k) - r^((k+1)/k)))`.
    ///
    /// **Domain**: k > 1, ratio >= 0; 0 from 1 on. **Source**: isentropic flow.
    ///
    /// ```
    /// use seep_common::physics::flow::IdealNozzle;
    /// let hole = IdealNozzle::round_mm(1.0, 1.0);
    /// assert!((hole.flow_coefficient(0.3) - 0.684731).abs() < 1e-6); // choked
    /// assert_eq!(hole.flow_coefficient(1.0), 0.0);
    /// ```
    #[must_use]
    pub fn flow_coefficient(&self, ratio: f64) -> f64 {
        let k = self.gas.heat_capacity_ratio;
        if ratio >= 1.0 {
            return 0.0;
        }
        if ratio <= critical_pressure_ratio(k) {
            return choked_coefficient(k);
        }
        // r^(2/k)·(1 - r^((k-1)/k)) keeps its digits near r = 1.
        let fall = -libm::expm1((k - 1.0) / k * libm::log(ratio));
        (2.0 * k / (k - 1.0) * libm::pow(ratio, 2.0 / k) * fall).sqrt()
    }

    /// Mass flow: `ṁ = Cd·A·p1·ψ(p2/p1)/√(R·T1)`.
    ///
    /// **Units**: kPa absolute, K in; kg/s out. **Source**: isentropic flow.
    ///
    /// ```
    /// use seep_common::physics::flow::IdealNozzle;
    /// let hole = IdealNozzle::round_mm(1.0, 1.0);
    /// let kg_per_s = hole.mass_kg_per_s(801.325, 101.325, 293.15);
    /// assert!((kg_per_s - 1.4856e-3).abs() < 1e-7);
    /// ```
    #[must_use]
    pub fn mass_kg_per_s(&self, up_kpa_abs: f64, down_kpa_abs: f64, up_k: f64) -> f64 {
        let speed = (self.gas.specific_constant_j_per_kg_k * up_k).sqrt();
        let psi = self.flow_coefficient(down_kpa_abs / up_kpa_abs);
        // mm²·kPa is 1e-3 N.
        1e-3 * self.discharge_coefficient * self.area_mm2 * up_kpa_abs * psi / speed
    }

    /// Sonic conductance: `C = ṁ_choked/(p1·ρ0)` at `T1 = T0`.
    ///
    /// **Units**: L/(s·bar). **Source**: ISO 6358-1 and isentropic flow; in
    /// round figures C is 0.2 L/(s·bar) per mm².
    ///
    /// ```
    /// use seep_common::physics::flow::IdealNozzle;
    /// let c = IdealNozzle::round_mm(1.0, 1.0).conductance_l_per_s_bar();
    /// assert!((c - 0.15645).abs() < 1e-5);
    /// ```
    #[must_use]
    pub fn conductance_l_per_s_bar(&self) -> f64 {
        1000.0 * self.mass_kg_per_s(100.0, 0.0, ANR_K) / ANR_DENSITY_KG_PER_M3
    }
}

/// Sonic conductance of a round hole in dry air with discharge coefficient 1.
///
/// **Units**: mm in; L/(s·bar) out.
///
/// ```
/// use seep_common::physics::flow::conductance_of_orifice_l_per_s_bar;
/// assert!((conductance_of_orifice_l_per_s_bar(2.0) - 0.6258).abs() < 1e-4);
/// ```
#[must_use]
pub fn conductance_of_orifice_l_per_s_bar(diameter_mm: f64) -> f64 {
    IdealNozzle::round_mm(diameter_mm, 1.0).conductance_l_per_s_bar()
}

/// Diameter of the ideal round hole with the same sonic conductance.
///
/// A picture for the reader, not a measurement of the hole: a real one is
/// larger by `1/√Cd`.
///
/// **Units**: L/(s·bar) in; mm out. **Domain**: C >= 0.
///
/// ```
/// use seep_common::physics::flow::{conductance_of_orifice_l_per_s_bar, equivalent_orifice_mm};
/// let c = conductance_of_orifice_l_per_s_bar(0.12);
/// assert!((equivalent_orifice_mm(c) - 0.12).abs() < 1e-12);
/// ```
#[must_use]
pub fn equivalent_orifice_mm(c_l_per_s_bar: f64) -> f64 {
    (c_l_per_s_bar / conductance_of_orifice_l_per_s_bar(1.0)).sqrt()
}
