//! What pressure and temperature contribute to a leak, for each law: the leak
//! of one unit of conductance.

use crate::physics::flow::shape_kpa;
use crate::physics::gas::{ANR_K, ANR_KPA_ABS, air_viscosity_pa_s};

/// A leak's law without its size.
///
/// Whatever law holds, the air that left is `n0 - n = G/100·∫ψ dt` with `G` in
/// L/(s·bar) and ψ from [`LeakShape::kpa`]. A straight-line regression of the
/// amount left against the integral of ψ therefore gives the conductance, in a
/// rigid tank and in a corner that sinks and cools alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeakShape {
    /// A hole that stops choking near outside pressure (ISO 6358, exponent
    /// 0.5). `G` is its sonic conductance C.
    Orifice {
        /// Critical pressure ratio b.
        critical_ratio: f64,
    },
    /// A long narrow gap: thread, seal, crack. `G` is its flow at 20 °C from
    /// 1 bar absolute into vacuum, per bar.
    LaminarSeep,
}

impl LeakShape {
    /// Flow of one unit of conductance:
    /// - orifice: `ψ = p·√(T0/T)·share(p_a/p)`, see [`shape_kpa`];
    /// - laminar seep: `ψ = (p² - p_a²)/p0·(T0/T)·(μ0/μ)`: the flow in a
    ///   capillary goes as `(p² - p_a²)/(μ·R·T)`, so a gap loses 6 % more air
    ///   at 10 °C than at 20 °C, an orifice 2 %.
    ///
    /// **Units**: kPa absolute, K (of the air in the volume) in; kPa out, so
    /// that ANR L/s = `G`\[L/(s·bar)\]/100·ψ. **Domain**: pressures not
    /// negative, T > 0; 0 when `p <= p_a`. **Source**: ISO 6358-1; Hagen–Poiseuille flow of an ideal gas.
    ///
    /// ```
    /// use seep_common::physics::leak::LeakShape;
    /// let hole = LeakShape::Orifice { critical_ratio: 0.4 };
    /// assert_eq!(hole.kpa(700.0, 100.0, 293.15), 700.0);
    /// assert_eq!(LeakShape::LaminarSeep.kpa(700.0, 100.0, 293.15), 4800.0);
    /// assert_eq!(LeakShape::LaminarSeep.kpa(90.0, 100.0, 293.15), 0.0);
    /// ```
    #[must_use]
    pub fn kpa(self, kpa_abs: f64, outside_kpa_abs: f64, t_k: f64) -> f64 {
        match self {
            LeakShape::Orifice { critical_ratio } => {
                shape_kpa(critical_ratio, kpa_abs, outside_kpa_abs, t_k)
            }
            LeakShape::LaminarSeep => {
                let squares = (kpa_abs - outside_kpa_abs) * (kpa_abs + outside_kpa_abs);
                squares.max(0.0) / ANR_KPA_ABS * ease(t_k)
            }
        }
    }
}

/// How much more air a laminar gap passes at a temperature than at 20 °C.
fn ease(t_k: f64) -> f64 {
    let thinner = air_viscosity_pa_s(ANR_K) / air_viscosity_pa_s(t_k);
    ANR_K / t_k * thinner
}
