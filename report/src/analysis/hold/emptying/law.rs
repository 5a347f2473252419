//! How the flow out depends on the pressure, for one volume.

use seep_common::physics::flow::shape_kpa;

/// The way out of a volume, sized by the volume it empties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outlet {
    /// A hole by ISO 6358, exponent 0.5.
    Hole {
        /// Share of the air that leaves per second while choked, 1/s: C·√(T/T₀)/V.
        per_s: f64,
        /// Critical pressure ratio b.
        critical_ratio: f64,
    },
    /// A narrow gap: viscous drag in proportion to the flow, inertia in proportion to
    /// its square, `p² − p_out² = A·q + B·q²`. At high pressure it passes air in
    /// proportion to pressure, as a choked hole does; near outside pressure it is a
    /// laminar seep.
    Gap {
        /// Share of the air that leaves per second at high pressure, 1/s: 1/√B.
        per_s: f64,
        /// A/√B, kPa: pressure about which inertia takes over from drag.
        drag_kpa: f64,
    },
}

impl Outlet {
    /// Share of the air held at the start's temperature that leaves per second.
    ///
    /// `warmth` is the temperature of the air over that of the wall. A hole passes air
    /// of the volume's temperature; a gap brings it to that of its walls.
    ///
    /// **Units**: kPa absolute in; kPa/s at the wall's temperature out. **Source**:
    /// ISO 6358-1; Darcy–Forchheimer drag of an ideal gas (textbook form, from memory,
    /// unverified).
    #[must_use]
    pub fn flow_kpa_per_s(&self, kpa_abs: f64, outside_kpa_abs: f64, warmth: f64) -> f64 {
        match *self {
            Outlet::Hole {
                per_s,
                critical_ratio,
            } => {
                // p/√θ: what a hole passes of air at θ times the wall's temperature.
                let at_wall = shape_kpa(critical_ratio, kpa_abs, outside_kpa_abs, 293.15);
                per_s * at_wall / warmth.sqrt()
            }
            Outlet::Gap { per_s, drag_kpa } => {
                let squares = (kpa_abs - outside_kpa_abs) * (kpa_abs + outside_kpa_abs);
                // q² + A'q = p² − p_out² in units of 1/√B, without cancellation.
                let x = squares.max(0.0);
                per_s * 2.0 * x / (drag_kpa + (drag_kpa * drag_kpa + 4.0 * x).sqrt())
            }
        }
    }

    /// Pressure at which the law changes, kPa absolute: where a hole stops choking,
    /// `p_out/b`; where drag and inertia of a gap are equal, `√(p_out² + 2·(A/√B)²)`.
    #[must_use]
    pub fn knee_kpa_abs(&self, outside_kpa_abs: f64) -> f64 {
        match *self {
            Outlet::Hole { critical_ratio, .. } => outside_kpa_abs / critical_ratio,
            Outlet::Gap { drag_kpa, .. } => {
                outside_kpa_abs.hypot(std::f64::consts::SQRT_2 * drag_kpa)
            }
        }
    }

    /// Share of the air that leaves per second at high pressure, 1/s.
    #[must_use]
    pub fn per_s(&self) -> f64 {
        match *self {
            Outlet::Hole { per_s, .. } | Outlet::Gap { per_s, .. } => per_s,
        }
    }
}
