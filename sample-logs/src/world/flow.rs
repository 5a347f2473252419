//! Flow through restrictions.
//!
//! The law is written here a second time on purpose: the report fits with the one
//! in `seep_common`, and a mistake shared by both could never show in a comparison
//! with the truth. A test holds the two against each other and against figures.

use super::air::{REFERENCE_DENSITY, REFERENCE_K};

/// 1 dm³/(s·bar) in m³/(s·Pa).
pub const SI_PER_L_S_BAR: f64 = 1e-8;

/// A restriction after ISO 6358 (1989): sonic conductance and critical ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Restriction {
    /// Sonic conductance C, m³/(s·Pa) at the reference state.
    pub c: f64,
    /// Critical pressure ratio b.
    pub b: f64,
}

impl Restriction {
    /// From the unit a data sheet uses, dm³/(s·bar).
    #[must_use]
    pub fn from_l_s_bar(c: f64, b: f64) -> Self {
        Restriction {
            c: c * SI_PER_L_S_BAR,
            b,
        }
    }

    /// The same opened by a fraction only.
    #[must_use]
    pub fn opened(self, fraction: f64) -> Self {
        Restriction {
            c: self.c * fraction,
            b: self.b,
        }
    }

    /// Mass flow from side 1 to side 2, kg/s; negative when side 2 is higher.
    ///
    /// `C·p₁·ρ₀·√(T₀/T₁)·φ(p₂/p₁)`, φ = 1 up to b, then
    /// `√(1 − ((p₂/p₁ − b)/(1 − b))²)`.
    ///
    /// ```
    /// use seep_sample_logs::world::Restriction;
    /// // Published open worked example, printed for ρ₀ = 1.185 kg/m³:
    /// // C 1e-8, b 0.35, 700 kPa to 100 kPa at 20 °C passes 0.008 295 kg/s.
    /// let valve = Restriction { c: 1e-8, b: 0.35 };
    /// let kg_s = valve.flow(700e3, 293.15, 100e3, 293.15);
    /// assert!((kg_s * 1.185 / 1.18837 - 0.008295).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn flow(self, pa_1: f64, kelvin_1: f64, pa_2: f64, kelvin_2: f64) -> f64 {
        if pa_2 > pa_1 {
            return -self.flow(pa_2, kelvin_2, pa_1, kelvin_1);
        }
        let full = self.c * pa_1 * REFERENCE_DENSITY * (REFERENCE_K / kelvin_1).sqrt();
        let over = (pa_2 / pa_1 - self.b) / (1.0 - self.b);
        if over <= 0.0 {
            full
        } else {
            full * (1.0 - over * over).max(0.0).sqrt()
        }
    }

    /// This restriction followed by another.
    ///
    /// **Source**: ISO 6358-3, series connection of two elements (from memory,
    /// text not seen; agrees with a direct solution at the joint).
    #[must_use]
    pub fn then(self, next: Restriction) -> Restriction {
        if self.c <= 0.0 || next.c <= 0.0 {
            return Restriction { c: 0.0, b: self.b };
        }
        let alpha = self.c / (self.b * next.c);
        let c = if alpha <= 1.0 {
            self.c
        } else {
            let rest = (1.0 - self.b) / self.b;
            let bottom = alpha * alpha + rest * rest;
            let root = (bottom - 1.0).sqrt();
            next.c * alpha * (alpha * self.b + (1.0 - self.b) * root) / bottom
        };
        let (share_1, share_2) = (c / self.c, c / next.c);
        let b = 1.0 - share_1 * share_1 * (1.0 - self.b) - share_2 * share_2 * (1.0 - next.b);
        Restriction {
            c,
            b: b.clamp(0.01, 0.95),
        }
    }
}

/// How a leak lets air through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeakLaw {
    /// A hole: ISO 6358.
    Orifice(Restriction),
    /// A thread or a seal: mass flow in kg/s is `k·(p₁² − p₂²)`, at the reference temperature.
    Laminar {
        /// Factor k, kg/(s·Pa²).
        k: f64,
    },
}

impl LeakLaw {
    /// Mass flow from side 1 to side 2, kg/s.
    #[must_use]
    pub fn flow(self, pa_1: f64, kelvin_1: f64, pa_2: f64, kelvin_2: f64) -> f64 {
        match self {
            LeakLaw::Orifice(hole) => hole.flow(pa_1, kelvin_1, pa_2, kelvin_2),
            LeakLaw::Laminar { k } => {
                let upstream_k = if pa_1 >= pa_2 { kelvin_1 } else { kelvin_2 };
                k * (pa_1 * pa_1 - pa_2 * pa_2) * REFERENCE_K / upstream_k
            }
        }
    }
}

/// Find the pressure of a joint without volume where `surplus` (what flows in
/// less what flows out, falling with the joint's pressure) is zero.
pub(super) fn joint_pressure(
    mut low_pa: f64,
    mut high_pa: f64,
    surplus: impl Fn(f64) -> f64,
) -> f64 {
    // 48 halvings of 2 MPa end far below a millionth of a pascal.
    for _ in 0..48 {
        let middle = 0.5 * (low_pa + high_pa);
        if surplus(middle) > 0.0 {
            low_pa = middle;
        } else {
            high_pa = middle;
        }
    }
    0.5 * (low_pa + high_pa)
}
