//! Dry air as an ideal gas, and the reference state amounts are told in.

use super::constants::{DRY_AIR, MOLAR_GAS};

/// Specific gas constant of dry air, J/(kg K).
pub const GAS_CONSTANT: f64 = MOLAR_GAS / DRY_AIR;

/// Ratio of the specific heats, ideal diatomic gas.
pub(super) const HEAT_RATIO: f64 = 1.4;

/// Specific heat at constant volume, J/(kg K).
pub const HEAT_AT_VOLUME: f64 = GAS_CONSTANT / (HEAT_RATIO - 1.0);

/// Specific heat at constant pressure, J/(kg K).
pub const HEAT_AT_PRESSURE: f64 = HEAT_AT_VOLUME * HEAT_RATIO;

/// Reference pressure of ANR, Pa (ISO 8778).
pub const REFERENCE_PA: f64 = 100e3;

/// Reference temperature of ANR, K (ISO 8778).
pub const REFERENCE_K: f64 = 293.15;

/// Density of this air at the reference state, kg/m³. ISO 8778 prints 1.185 for
/// moist air; here all air is dry and ideal, so that amounts and flows agree.
pub const REFERENCE_DENSITY: f64 = REFERENCE_PA / (GAS_CONSTANT * REFERENCE_K);

/// Amount in litres at the reference state.
#[must_use]
pub fn anr_litres(mass_kg: f64) -> f64 {
    mass_kg / REFERENCE_DENSITY * 1000.0
}

/// Mass of an amount in litres at the reference state, kg.
#[must_use]
pub fn mass_of_anr_litres(litres: f64) -> f64 {
    litres * REFERENCE_DENSITY / 1000.0
}

/// Air in one volume: how much, and how much heat is in it.
///
/// Both are kept as stocks, so what leaves one volume is exactly what enters
/// another, in mass and in energy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Internal energy, J, from 0 K.
    pub energy_j: f64,
}

impl Air {
    /// Air at a pressure and a temperature in a volume.
    #[must_use]
    pub fn at(pa: f64, kelvin: f64, m3: f64) -> Self {
        let mass_kg = pa * m3 / (GAS_CONSTANT * kelvin);
        Air {
            mass_kg,
            energy_j: mass_kg * HEAT_AT_VOLUME * kelvin,
        }
    }

    /// Temperature, K.
    #[must_use]
    pub fn kelvin(&self) -> f64 {
        self.energy_j / (self.mass_kg * HEAT_AT_VOLUME)
    }

    /// Absolute pressure in a volume, Pa: `p = (κ − 1)·U/V`.
    #[must_use]
    pub fn pa(&self, m3: f64) -> f64 {
        (HEAT_RATIO - 1.0) * self.energy_j / m3
    }

    /// Heat needed for one kelvin at constant volume, J/K.
    #[must_use]
    pub fn heat_capacity(&self) -> f64 {
        self.mass_kg * HEAT_AT_VOLUME
    }

    /// Let air in that comes from a place at `kelvin`; it brings its enthalpy.
    pub fn put(&mut self, mass_kg: f64, kelvin: f64) {
        self.mass_kg += mass_kg;
        self.energy_j += mass_kg * HEAT_AT_PRESSURE * kelvin;
    }

    /// Change the volume without heat: `p·V^κ` stays. Returns the work done on
    /// the air, J.
    pub fn squeeze(&mut self, from_m3: f64, to_m3: f64) -> f64 {
        let before = self.energy_j;
        self.energy_j *= libm::pow(from_m3 / to_m3, HEAT_RATIO - 1.0);
        self.energy_j - before
    }
}

/// What surrounds the air: an inner skin with its own heat, and the outside.
///
/// Two lumps give two time constants, as filled vessels show them: seconds for
/// the air against the skin, minutes for the skin against the outside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Skin {
    /// Temperature, K.
    pub kelvin: f64,
    /// Heat for one kelvin, J/K.
    pub capacity_j_k: f64,
    /// From the air to the skin, W/K.
    pub to_air_w_k: f64,
    /// From the skin to the outside, W/K.
    pub to_outside_w_k: f64,
}

impl Skin {
    /// Exchange heat for `dt_s`. Each pair relaxes exactly, so any step is
    /// stable. Returns the heat that came in from outside, J.
    pub fn exchange(&mut self, air: &mut Air, outside_k: f64, dt_s: f64) -> f64 {
        let of_air = air.heat_capacity();
        let joint = of_air * self.capacity_j_k / (of_air + self.capacity_j_k);
        let gone = 1.0 - libm::exp(-dt_s * self.to_air_w_k / joint);
        let heat_j = (self.kelvin - air.kelvin()) * joint * gone;
        air.energy_j += heat_j;
        self.kelvin -= heat_j / self.capacity_j_k;

        let gone = 1.0 - libm::exp(-dt_s * self.to_outside_w_k / self.capacity_j_k);
        let from_outside_j = (outside_k - self.kelvin) * self.capacity_j_k * gone;
        self.kelvin += from_outside_j / self.capacity_j_k;
        from_outside_j
    }
}
