//! Blow-down of a tank through an ideal nozzle while it chokes.

use crate::physics::flow::IdealNozzle;

/// A tank that empties through a choked nozzle.
///
/// Two limits bracket the truth: heat flows in freely (isothermal) or not at
/// all (adiabatic). Seconds after a dump a bag is near the second, minutes
/// later at the first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blowdown {
    /// Pressure at the start, kPa absolute.
    pub start_kpa_abs: f64,
    /// Temperature at the start, K.
    pub start_k: f64,
    /// Mass at the start over mass flow at the start, s.
    pub tau_s: f64,
    /// Ratio of heat capacities.
    pub heat_capacity_ratio: f64,
}

impl Blowdown {
    /// Through a nozzle: `τ = m0/ṁ0 = V/(Cd·A·√(R·T)·ψ)`, ψ the choked flow
    /// coefficient.
    ///
    /// **Units**: L, kPa absolute, K.
    ///
    /// ```
    /// use seep_common::physics::{discharge::Blowdown, flow::IdealNozzle};
    /// let hole = IdealNozzle::round_mm(1.0, 1.0);
    /// let tank = Blowdown::through(&hole, 10.0, 901.325, 293.15);
    /// assert!((tank.tau_s - 64.1).abs() < 0.01);
    /// ```
    #[must_use]
    pub fn through(nozzle: &IdealNozzle, volume_l: f64, start_kpa_abs: f64, start_k: f64) -> Self {
        let kg_per_m3 = nozzle.gas.density_kg_per_m3(start_kpa_abs, start_k);
        Blowdown {
            start_kpa_abs,
            start_k,
            tau_s: kg_per_m3 * volume_l * 1e-3 / nozzle.mass_kg_per_s(start_kpa_abs, 0.0, start_k),
            heat_capacity_ratio: nozzle.gas.heat_capacity_ratio,
        }
    }

    /// `1 + (k-1)/2·t/τ`, what the adiabatic forms are powers of.
    fn stretch(&self, elapsed_s: f64) -> f64 {
        1.0 + 0.5 * (self.heat_capacity_ratio - 1.0) * elapsed_s / self.tau_s
    }

    /// Pressure at constant temperature: `p0·exp(-t/τ)`.
    ///
    /// **Units**: s in; kPa absolute out. **Domain**: while choked.
    ///
    /// ```
    /// use seep_common::physics::{discharge::Blowdown, flow::IdealNozzle};
    /// let tank = Blowdown::through(&IdealNozzle::round_mm(1.0, 1.0), 10.0, 901.325, 293.15);
    /// let p = tank.isothermal_kpa_abs(tank.tau_s);
    /// assert!((p - 901.325 * (-1.0_f64).exp()).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn isothermal_kpa_abs(&self, elapsed_s: f64) -> f64 {
        super::choked_kpa_abs(self.start_kpa_abs, self.tau_s, elapsed_s)
    }

    /// Pressure without heat flow: `p0·(1 + (k-1)/2·t/τ)^(-2k/(k-1))`.
    ///
    /// **Units**: s in; kPa absolute out. **Domain**: while choked.
    /// **Source**: gas dynamics texts (Bar-Meir, Fundamentals of Compressible
    /// Flow, ch. 11).
    ///
    /// ```
    /// use seep_common::physics::{discharge::Blowdown, flow::IdealNozzle};
    /// let tank = Blowdown::through(&IdealNozzle::round_mm(1.0, 1.0), 10.0, 901.325, 293.15);
    /// // expanding air cools, so its pressure falls faster
    /// assert!(tank.adiabatic_kpa_abs(30.0) < 0.86 * tank.isothermal_kpa_abs(30.0));
    /// ```
    #[must_use]
    pub fn adiabatic_kpa_abs(&self, elapsed_s: f64) -> f64 {
        let k = self.heat_capacity_ratio;
        self.start_kpa_abs * libm::pow(self.stretch(elapsed_s), -2.0 * k / (k - 1.0))
    }

    /// Temperature without heat flow: `T0·(1 + (k-1)/2·t/τ)^(-2)`.
    ///
    /// **Units**: s in; K out. **Domain** and **Source** as above.
    ///
    /// ```
    /// use seep_common::physics::{discharge::Blowdown, flow::IdealNozzle};
    /// let tank = Blowdown::through(&IdealNozzle::round_mm(1.0, 1.0), 10.0, 901.325, 293.15);
    /// // half a minute of blowing: -28 °C inside, without heat from the wall
    /// assert!((tank.adiabatic_k(30.0) - 245.1).abs() < 0.1);
    /// ```
    #[must_use]
    pub fn adiabatic_k(&self, elapsed_s: f64) -> f64 {
        let s = self.stretch(elapsed_s);
        self.start_k / (s * s)
    }

    /// Time to a pressure at constant temperature: `τ·ln(p0/p)`.
    ///
    /// **Units**: kPa absolute in; s out. **Domain**: while choked.
    ///
    /// ```
    /// use seep_common::physics::{discharge::Blowdown, flow::IdealNozzle};
    /// let tank = Blowdown::through(&IdealNozzle::round_mm(1.0, 1.0), 10.0, 901.325, 293.15);
    /// let half = tank.isothermal_time_s(901.325 / 2.0);
    /// assert!((half / tank.tau_s - 0.693147).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn isothermal_time_s(&self, to_kpa_abs: f64) -> f64 {
        super::choked_time_s(self.tau_s, self.start_kpa_abs, to_kpa_abs)
    }

    /// Time to a pressure without heat flow:
    /// `τ·2/(k-1)·((p0/p)^((k-1)/(2k)) - 1)`.
    ///
    /// **Units**: kPa absolute in; s out. **Domain**: while choked.
    /// **Source**: [`Blowdown::adiabatic_kpa_abs`] solved for the time.
    ///
    /// ```
    /// use seep_common::physics::{discharge::Blowdown, flow::IdealNozzle};
    /// let tank = Blowdown::through(&IdealNozzle::round_mm(1.0, 1.0), 10.0, 901.325, 293.15);
    /// let t = tank.adiabatic_time_s(tank.adiabatic_kpa_abs(12.0));
    /// assert!((t - 12.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn adiabatic_time_s(&self, to_kpa_abs: f64) -> f64 {
        let k = self.heat_capacity_ratio;
        let log_ratio = libm::log(self.start_kpa_abs / to_kpa_abs);
        self.tau_s * 2.0 / (k - 1.0) * libm::expm1(0.5 * (k - 1.0) / k * log_ratio)
    }
}
