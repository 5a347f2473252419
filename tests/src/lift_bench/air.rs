//! Air, flows and valves of the bench, in SI units and with constants of their own.

/// Gas constant of air, J/(kg·K), and its heats at constant volume and pressure.
const GAS: f64 = 287.05;
const CV: f64 = 717.6;
const CP: f64 = 1004.7;

/// Density at 20 °C and 100 kPa, kg/m³ (ISO 8778).
const ANR_DENSITY: f64 = 100_000.0 / (GAS * 293.15);

/// A volume of air.
#[derive(Debug, Clone, Copy)]
pub struct Air {
    /// kg.
    pub kg: f64,
    /// K.
    pub kelvin: f64,
    /// m³.
    pub m3: f64,
}

impl Air {
    /// At a pressure, Pa.
    #[must_use]
    pub fn at(pa: f64, m3: f64, kelvin: f64) -> Self {
        Air {
            kg: pa * m3 / (GAS * kelvin),
            kelvin,
            m3,
        }
    }

    /// Pressure, Pa.
    #[must_use]
    pub fn pa(&self) -> f64 {
        self.kg * GAS * self.kelvin / self.m3
    }

    /// Take `kg` at a temperature in (negative: let own air out), change the volume,
    /// and take heat from a wall.
    pub fn step(&mut self, kg: f64, from_k: f64, m3: f64, heat_j: f64) {
        let enters_k = if kg > 0.0 { from_k } else { self.kelvin };
        let work_j = self.pa() * (m3 - self.m3);
        let inner_j = self.kg * CV * self.kelvin + CP * enters_k * kg - work_j + heat_j;
        self.kg += kg;
        self.m3 = m3;
        self.kelvin = inner_j / (self.kg * CV);
    }

    /// Heat capacity at constant volume, J/K.
    #[must_use]
    pub fn capacity(&self) -> f64 {
        self.kg * CV
    }
}

/// Mass flow of a path, kg/s.
///
/// **Source**: ISO 6358-1: `C·ρ₀·p₁·√(T₀/T₁)`, and below critical times
/// `√(1 − ((p₂/p₁ − b)/(1 − b))²)`.
#[must_use]
pub fn mass_flow(c_l_per_s_bar: f64, b: f64, up: &Air, down_pa: f64) -> f64 {
    let ratio = down_pa / up.pa();
    if ratio >= 1.0 {
        return 0.0;
    }
    let beyond = ((ratio - b) / (1.0 - b)).max(0.0);
    let c = c_l_per_s_bar * 1e-8;
    c * ANR_DENSITY * up.pa() * (293.15 / up.kelvin).sqrt() * (1.0 - beyond * beyond).sqrt()
}

/// A valve that answers late, and closes later or sooner than it opens.
#[derive(Debug, Clone, Copy, Default)]
pub struct Valve {
    /// From coil on until air passes, s.
    pub opens_after_s: f64,
    /// From coil off until none does, s.
    pub closes_after_s: f64,
    driven: bool,
    since_s: f64,
    open: bool,
}

impl Valve {
    /// A closed valve.
    #[must_use]
    pub fn new(opens_after_s: f64, closes_after_s: f64) -> Self {
        Valve {
            opens_after_s,
            closes_after_s,
            ..Valve::default()
        }
    }

    /// Coil on or off.
    pub fn drive(&mut self, t_s: f64, driven: bool) {
        if self.driven != driven {
            (self.driven, self.since_s) = (driven, t_s);
        }
    }

    /// Coil is on.
    #[must_use]
    pub fn driven(&self) -> bool {
        self.driven
    }

    /// Air passes.
    pub fn passes(&mut self, t_s: f64) -> bool {
        let late_s = if self.driven {
            self.opens_after_s
        } else {
            self.closes_after_s
        };
        if t_s - self.since_s >= late_s {
            self.open = self.driven;
        }
        self.open
    }
}

/// ANR litres of a mass.
#[must_use]
pub fn anr_l(kg: f64) -> f64 {
    kg / ANR_DENSITY * 1000.0
}
