//! Leaks as rate laws: what leaves a volume, and its pressure if it is rigid.

mod shape;

pub use shape::LeakShape;

use super::discharge::{choked_kpa_abs, choked_time_constant_s, laminar_kpa_abs, vented_kpa_abs};
use super::gas::{ANR_K, ANR_KPA_ABS, amount_mol};

/// How a leak's flow depends on pressure. One number each says how large it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeakLaw {
    /// A hole that chokes at every pressure of interest: flow as absolute
    /// pressure, `q = C·p·√(T0/T)`.
    ChokedOrifice {
        /// Sonic conductance, L/(s·bar).
        c_l_per_s_bar: f64,
    },
    /// A hole that stops choking near outside pressure: ISO 6358 with `C`, `b`.
    Orifice {
        /// Sonic conductance, L/(s·bar).
        c_l_per_s_bar: f64,
        /// Critical pressure ratio.
        critical_ratio: f64,
    },
    /// A seep through a thread, a seal or a crack: `q = g·(p² - p_a²)` at 20 °C,
    /// more when it is colder (see [`LeakShape::kpa`]). Not permeation through
    /// sound rubber, which goes as `p - p_a` and rises with temperature.
    LaminarSeep {
        /// Seep coefficient at 20 °C, ANR L/(s·kPa²): 1e-4 times the conductance
        /// of [`LeakShape::LaminarSeep`] in L/(s·bar).
        g_l_per_s_kpa2: f64,
    },
    /// A rigid volume's pressure going exponentially to a free level,
    /// `dp/dt = -k·(p - c)`: a description when the data cannot tell the laws
    /// apart, not a physical law.
    FreeLevel {
        /// Rate, 1/s.
        k_per_s: f64,
        /// Level it tends to, kPa absolute.
        level_kpa_abs: f64,
    },
}

/// A rigid volume and what surrounds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surroundings {
    /// Volume, L.
    pub volume_l: f64,
    /// Temperature of its air, K.
    pub t_k: f64,
    /// Pressure on the other side of the leak, kPa absolute: outside, or the
    /// volume it leaks into.
    pub outside_kpa_abs: f64,
}

impl LeakLaw {
    /// Air leaving, ANR L/s: `-dn/dt`. Never negative but for the free level.
    ///
    /// Holds for a sprung corner as for a rigid volume; only the free level
    /// needs the volume.
    ///
    /// **Units**: kPa absolute in; ANR L/s out. **Domain**: `p >=` outside;
    /// below it nothing flows back in. **Source**: ISO 6358-1; laminar
    /// capillary flow.
    ///
    /// ```
    /// use seep_common::physics::leak::{LeakLaw, Surroundings};
    /// let outside = Surroundings { volume_l: 6.0, t_k: 293.15, outside_kpa_abs: 100.0 };
    /// let hole = LeakLaw::ChokedOrifice { c_l_per_s_bar: 1e-4 };
    /// assert!((hole.outflow_anr_l_per_s(700.0, &outside) - 7e-4).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn outflow_anr_l_per_s(&self, kpa_abs: f64, around: &Surroundings) -> f64 {
        let (outside, t_k) = (around.outside_kpa_abs, around.t_k);
        // L/(s·bar) is 0.01 L/(s·kPa).
        let flow = |g_l_per_s_bar, shape: LeakShape| {
            g_l_per_s_bar / 100.0 * shape.kpa(kpa_abs, outside, t_k)
        };
        match *self {
            LeakLaw::ChokedOrifice { c_l_per_s_bar } => {
                flow(c_l_per_s_bar, LeakShape::ChokedOrifice)
            }
            LeakLaw::Orifice {
                c_l_per_s_bar,
                critical_ratio,
            } => flow(c_l_per_s_bar, LeakShape::Orifice { critical_ratio }),
            LeakLaw::LaminarSeep { g_l_per_s_kpa2 } => {
                flow(1e4 * g_l_per_s_kpa2, LeakShape::LaminarSeep)
            }
            LeakLaw::FreeLevel {
                k_per_s,
                level_kpa_abs,
            } => k_per_s * (kpa_abs - level_kpa_abs) / anr_pressure_factor(around),
        }
    }

    /// Fall of a rigid volume's pressure, kPa/s: `-dp/dt = q·p0·T/(T0·V)`.
    ///
    /// **Units**: kPa absolute in; kPa/s out, falling positive.
    ///
    /// ```
    /// use seep_common::physics::leak::{LeakLaw, Surroundings};
    /// let outside = Surroundings { volume_l: 6.0, t_k: 293.15, outside_kpa_abs: 100.0 };
    /// let hole = LeakLaw::ChokedOrifice { c_l_per_s_bar: 6e-4 };
    /// // τ = 10000 s
    /// assert!((hole.falling_kpa_per_s(700.0, &outside) - 0.07).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn falling_kpa_per_s(&self, kpa_abs: f64, around: &Surroundings) -> f64 {
        self.outflow_anr_l_per_s(kpa_abs, around) * anr_pressure_factor(around)
    }

    /// Pressure of a rigid volume after a time, isothermal.
    ///
    /// **Units**: kPa absolute, s. **Source**: the closed forms of
    /// [`discharge`](super::discharge).
    ///
    /// ```
    /// use seep_common::physics::leak::{LeakLaw, Surroundings};
    /// let outside = Surroundings { volume_l: 6.0, t_k: 293.15, outside_kpa_abs: 100.0 };
    /// let hole = LeakLaw::ChokedOrifice { c_l_per_s_bar: 6e-4 };
    /// let p = hole.pressure_after_kpa_abs(700.0, &outside, 10_000.0);
    /// assert!((p - 700.0 * (-1.0_f64).exp()).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn pressure_after_kpa_abs(
        &self,
        start_kpa_abs: f64,
        around: &Surroundings,
        elapsed_s: f64,
    ) -> f64 {
        let outside = around.outside_kpa_abs;
        let tau_s = |c| choked_time_constant_s(around.volume_l, c, around.t_k);
        match *self {
            LeakLaw::ChokedOrifice { c_l_per_s_bar } => {
                choked_kpa_abs(start_kpa_abs, tau_s(c_l_per_s_bar), elapsed_s)
            }
            LeakLaw::Orifice {
                c_l_per_s_bar,
                critical_ratio,
            } => {
                let tau = tau_s(c_l_per_s_bar);
                vented_kpa_abs(tau, critical_ratio, outside, start_kpa_abs, elapsed_s)
            }
            LeakLaw::LaminarSeep { g_l_per_s_kpa2 } if start_kpa_abs > outside => {
                // ψ of 1 kPa against vacuum, times p0, is the temperature factor.
                let ease = ANR_KPA_ABS * LeakShape::LaminarSeep.kpa(1.0, 0.0, around.t_k);
                let a = g_l_per_s_kpa2 * ease * anr_pressure_factor(around);
                laminar_kpa_abs(start_kpa_abs, outside, a, elapsed_s)
            }
            LeakLaw::LaminarSeep { .. } => start_kpa_abs,
            LeakLaw::FreeLevel {
                k_per_s,
                level_kpa_abs,
            } => {
                let fall = libm::exp(-k_per_s * elapsed_s);
                level_kpa_abs + (start_kpa_abs - level_kpa_abs) * fall
            }
        }
    }
}

/// kPa of a volume per ANR litre in it: `p0·T/(T0·V)`.
fn anr_pressure_factor(around: &Surroundings) -> f64 {
    ANR_KPA_ABS * around.t_k / (ANR_K * around.volume_l)
}

/// State of a volume at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VolumeState {
    /// Pressure, kPa absolute.
    pub kpa_abs: f64,
    /// Temperature, K.
    pub t_k: f64,
    /// Volume, L.
    pub volume_l: f64,
}

/// Mean loss between two states: `(n1 - n2)/Δt`, `n = p·V/(R·T)`.
///
/// The only form that is right for a volume that changes size, temperature and
/// load in between.
///
/// **Units**: s in; mol/s out, loss positive. **Source**: ideal gas law;
/// 40 CFR 1065.644 has it with the sign turned.
///
/// ```
/// use seep_common::physics::leak::{VolumeState, mean_loss_mol_per_s};
/// let evening = VolumeState { kpa_abs: 600.0, t_k: 293.15, volume_l: 4.0 };
/// let morning = VolumeState { kpa_abs: 600.0, t_k: 283.15, volume_l: 4.0 * 283.15 / 293.15 };
/// // cooled and sunk, nothing lost
/// assert!(mean_loss_mol_per_s(&evening, &morning, 28_800.0).abs() < 1e-18);
/// ```
#[must_use]
pub fn mean_loss_mol_per_s(first: &VolumeState, last: &VolumeState, elapsed_s: f64) -> f64 {
    let amount = |s: &VolumeState| amount_mol(s.kpa_abs, s.volume_l, s.t_k);
    (amount(first) - amount(last)) / elapsed_s
}

#[cfg(test)]
mod tests;
