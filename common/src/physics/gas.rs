//! Amount of air from pressure, volume and temperature; ANR reference; density.

/// Molar gas constant, J/(mol·K). Exact (SI, 2019).
pub const MOLAR_GAS_CONSTANT: f64 = 8.314_462_618_153_24;

/// Molar mass of dry air, kg/mol.
///
/// **Source**: 28.9647 g/mol, the handbook value (28.96546 in the reference
/// equation of Lemmon et al. 2000; 28.9644 in US Standard Atmosphere 1976).
pub const DRY_AIR_KG_PER_MOL: f64 = 0.028_964_7;

/// Temperature of ANR air, K (ISO 8778: 20 °C).
pub const ANR_K: f64 = 293.15;

/// Pressure of ANR air, kPa absolute (ISO 8778: 100 kPa).
pub const ANR_KPA_ABS: f64 = 100.0;

/// Density of ANR air, kg/m³ (ISO 8778: 20 °C, 100 kPa, 65 % relative humidity).
///
/// Only the mass formula of ISO 6358 uses it. Amounts are counted in moles or
/// ANR litres of an ideal gas, which needs no density; a dry ideal gas at the
/// same state has 1.1884 kg/m³, 0.28 % more.
pub const ANR_DENSITY_KG_PER_M3: f64 = 1.185;

/// An ideal gas with constant heat capacities.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IdealGas {
    /// Specific gas constant, J/(kg·K).
    pub specific_constant_j_per_kg_k: f64,
    /// Ratio of heat capacities cp/cv.
    pub heat_capacity_ratio: f64,
}

impl IdealGas {
    /// Dry air: 287.055 J/(kg·K), 1.4.
    ///
    /// **Source**: R/M with the constants above; 1.4 is the usual rounded value
    /// (1.4020 at 20 °C and 101 kPa, 1.4148 at 20 °C and 800 kPa by the
    /// equation of Lemmon et al. 2000).
    pub const DRY_AIR: IdealGas = IdealGas {
        specific_constant_j_per_kg_k: MOLAR_GAS_CONSTANT / DRY_AIR_KG_PER_MOL,
        heat_capacity_ratio: 1.4,
    };
}

/// Viscosity of dry air: `μ = β·T^1.5/(T + S)`, β = 1.458e-6, S = 110.4 K.
///
/// **Units**: K in; Pa·s out. **Domain**: -30 °C to 60 °C and up to 1.2 MPa
/// within 1 % of real air, as a ratio to 20 °C within 0.2 %. **Source**:
/// Sutherland's formula with the constants of US Standard Atmosphere 1976.
///
/// ```
/// use seep_common::physics::gas::air_viscosity_pa_s;
/// assert!((air_viscosity_pa_s(288.15) - 1.7894e-5).abs() < 5e-10);
/// ```
#[must_use]
pub fn air_viscosity_pa_s(t_k: f64) -> f64 {
    1.458e-6 * t_k * t_k.sqrt() / (t_k + 110.4)
}

/// Amount of air in a volume as the litres it takes at ANR conditions:
/// `V_ANR = V · p/100 kPa · 293.15 K/T`.
///
/// **Units**: kPa absolute, L, K in; ANR L out. **Source**: ideal gas law;
/// ISO 8778.
///
/// ```
/// use seep_common::physics::gas::amount_anr_l;
/// assert_eq!(amount_anr_l(800.0, 2.0, 293.15), 16.0);
/// ```
#[must_use]
pub fn amount_anr_l(kpa_abs: f64, volume_l: f64, t_k: f64) -> f64 {
    kpa_abs / ANR_KPA_ABS * volume_l * ANR_K / t_k
}

#[cfg(test)]
mod tests;
