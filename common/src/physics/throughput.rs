//! One leak rate in the units different trades use for it.
//!
//! A *throughput* in Pa·m³/s is pressure times volume flow; it is an amount of
//! gas per time only together with a temperature. The *standard cubic
//! centimetre per minute* is taken at 0 °C and 101.325 kPa, ANR air at 20 °C
//! and 100 kPa.

use super::gas::{ANR_K, MOL_PER_ANR_L, MOLAR_GAS_CONSTANT};

/// Temperature of the standard cubic centimetre, K (0 °C).
pub const STANDARD_CM3_K: f64 = 273.15;

/// Pressure of the standard cubic centimetre, kPa absolute (one atmosphere).
pub const STANDARD_CM3_KPA_ABS: f64 = 101.325;

/// 1 Pa·m³/s in mbar·L/s. Exact.
pub const MBAR_L_PER_PA_M3: f64 = 10.0;

/// Amount flow of a throughput measured at a temperature: `ṅ = Q/(R·T)`.
///
/// **Units**: Pa·m³/s, K in; mol/s out. **Source**: ideal gas law.
///
/// ```
/// use seep_common::physics::throughput::mol_per_s_from_pa_m3_per_s;
/// let flow = mol_per_s_from_pa_m3_per_s(1.0, 293.15);
/// assert!((flow - 4.1027581458e-4).abs() < 1e-14);
/// ```
#[must_use]
pub fn mol_per_s_from_pa_m3_per_s(pa_m3_per_s: f64, t_k: f64) -> f64 {
    pa_m3_per_s / (MOLAR_GAS_CONSTANT * t_k)
}

/// Throughput of an amount flow at a temperature: `Q = ṅ·R·T`.
///
/// **Units**: mol/s, K in; Pa·m³/s out.
///
/// ```
/// use seep_common::physics::throughput::pa_m3_per_s_from_mol_per_s;
/// let q = pa_m3_per_s_from_mol_per_s(4.1027581458e-4, 293.15);
/// assert!((q - 1.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn pa_m3_per_s_from_mol_per_s(mol_per_s: f64, t_k: f64) -> f64 {
    mol_per_s * MOLAR_GAS_CONSTANT * t_k
}

/// Amount flow as ANR cm³/min, the unit every leak is reported in.
///
/// **Units**: mol/s in; ANR cm³/min out. **Source**: ISO 8778 reference.
///
/// ```
/// use seep_common::physics::throughput::{anr_cm3_per_min, mol_per_s_from_pa_m3_per_s};
/// // 1 Pa·m³/s at 20 °C is 10 cm³/s at 100 kPa.
/// let q = anr_cm3_per_min(mol_per_s_from_pa_m3_per_s(1.0, 293.15));
/// assert!((q - 600.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn anr_cm3_per_min(mol_per_s: f64) -> f64 {
    mol_per_s / MOL_PER_ANR_L * 60_000.0
}

/// Amount flow of ANR cm³/min; inverse of [`anr_cm3_per_min`].
///
/// **Units**: ANR cm³/min in; mol/s out.
///
/// ```
/// use seep_common::physics::throughput::{anr_cm3_per_min, mol_per_s_from_anr_cm3_per_min};
/// assert!((anr_cm3_per_min(mol_per_s_from_anr_cm3_per_min(25.0)) - 25.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn mol_per_s_from_anr_cm3_per_min(anr_cm3_per_min: f64) -> f64 {
    anr_cm3_per_min / 60_000.0 * MOL_PER_ANR_L
}

/// Amount flow of standard cm³/min (0 °C, 101.325 kPa).
///
/// **Units**: sccm in; mol/s out.
///
/// ```
/// use seep_common::physics::throughput::mol_per_s_from_sccm;
/// assert!((mol_per_s_from_sccm(1.0) - 7.43583890e-7).abs() < 1e-15);
/// ```
#[must_use]
pub fn mol_per_s_from_sccm(sccm: f64) -> f64 {
    sccm * STANDARD_CM3_KPA_ABS / (60_000.0 * MOLAR_GAS_CONSTANT * STANDARD_CM3_K)
}

/// Amount flow as standard cm³/min (0 °C, 101.325 kPa).
///
/// **Units**: mol/s in; sccm out.
///
/// ```
/// use seep_common::physics::throughput::sccm_from_mol_per_s;
/// assert!((sccm_from_mol_per_s(4.1027581458e-4) - 551.754577).abs() < 1e-5);
/// ```
#[must_use]
pub fn sccm_from_mol_per_s(mol_per_s: f64) -> f64 {
    mol_per_s / mol_per_s_from_sccm(1.0)
}

/// Throughput of a rigid volume whose pressure falls: `Q = V·(-dp/dt)`.
///
/// **Units**: L, kPa/s (falling counts positive) in; Pa·m³/s out (1 kPa·L is
/// 1 Pa·m³). **Domain**: constant temperature, constant volume.
///
/// ```
/// use seep_common::physics::throughput::throughput_pa_m3_per_s;
/// // 5 L losing 2 mbar in 30 s
/// assert!((throughput_pa_m3_per_s(5.0, 0.2 / 30.0) - 0.0333333).abs() < 1e-7);
/// ```
#[must_use]
pub fn throughput_pa_m3_per_s(volume_l: f64, falling_kpa_per_s: f64) -> f64 {
    volume_l * falling_kpa_per_s
}

/// Pressure rate of a rigid volume that loses ANR air:
/// `-dp/dt = q·100 kPa·T/(293.15 K·V)`.
///
/// **Units**: ANR cm³/min, L, K in; kPa/h out (falling counts positive).
///
/// ```
/// use seep_common::physics::throughput::falling_kpa_per_h;
/// // 10 cm³/min from 6 L: 0.6 L an hour, a tenth of the volume at 100 kPa
/// assert!((falling_kpa_per_h(10.0, 6.0, 293.15) - 10.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn falling_kpa_per_h(anr_cm3_per_min: f64, volume_l: f64, t_k: f64) -> f64 {
    anr_cm3_per_min * 0.06 * super::gas::ANR_KPA_ABS * t_k / (ANR_K * volume_l)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::gas::DRY_AIR_KG_PER_MOL;
    use crate::units::{KPA_PER_PSI, STANDARD_ATMOSPHERE_KPA_ABS};

    fn close(got: f64, want: f64, relative: f64) {
        assert!(
            (got - want).abs() <= relative * want.abs(),
            "got {got}, want {want}"
        );
    }

    /// Vacuum-technique conversion tables publish 1 sccm = 0.00168875 Pa·m³/s
    /// and 1 mbar·L/s = 59.2 sccm; more digits computed from the definitions.
    #[test]
    fn published_conversions() {
        let one_sccm = pa_m3_per_s_from_mol_per_s(mol_per_s_from_sccm(1.0), STANDARD_CM3_K);
        close(one_sccm, 0.001_688_75, 1e-12);
        close(one_sccm * MBAR_L_PER_PA_M3, 0.016_887_5, 1e-12);
        let one_pa_m3 = mol_per_s_from_pa_m3_per_s(1.0, STANDARD_CM3_K);
        close(sccm_from_mol_per_s(one_pa_m3), 592.153_960_0, 1e-10);
        close(sccm_from_mol_per_s(one_pa_m3 / 10.0), 59.2, 5e-4);
        close(1000.0 / STANDARD_ATMOSPHERE_KPA_ABS, 9.869_232_667, 1e-9);
    }

    /// Computed: 1 Pa·m³/s measured at 293.15 K.
    #[test]
    fn one_throughput_at_room_temperature() {
        let flow = mol_per_s_from_pa_m3_per_s(1.0, 293.15);
        close(flow, 4.102_758_145_8e-4, 1e-10);
        close(sccm_from_mol_per_s(flow), 551.754_577, 1e-8);
        close(flow * DRY_AIR_KG_PER_MOL, 1.188_351_59e-5, 1e-8);
    }

    /// Published leak-testing example: 5 L from 1000 to 998 mbar in 30 s is
    /// 0.33333 mbar·L/s; the sccm figure (same temperature) is computed.
    #[test]
    fn five_litres_two_millibar() {
        let q = throughput_pa_m3_per_s(5.0, 0.2 / 30.0);
        close(q * MBAR_L_PER_PA_M3, 0.333_33, 1e-4);
        let mol = mol_per_s_from_pa_m3_per_s(q, STANDARD_CM3_K);
        close(sccm_from_mol_per_s(mol), 19.738_465, 1e-7);
    }

    /// Computed: 10 L losing 2 psi a minute.
    #[test]
    fn ten_litres_two_psi_a_minute() {
        close(1000.0 * KPA_PER_PSI / 60.0, 114.912_621_552_8, 1e-12);
        let q = throughput_pa_m3_per_s(10.0, 2.0 * KPA_PER_PSI / 60.0);
        close(q, 2.298_252_431_1, 1e-10);
        let standard = mol_per_s_from_pa_m3_per_s(q, STANDARD_CM3_K);
        close(sccm_from_mol_per_s(standard), 1_360.919_28, 1e-8);
        let warm = mol_per_s_from_pa_m3_per_s(q, 293.15);
        close(anr_cm3_per_min(warm) / 1000.0, 1.378_951_46, 1e-8);
        let kpa_per_h = falling_kpa_per_h(anr_cm3_per_min(warm), 10.0, 293.15);
        close(kpa_per_h, 120.0 * KPA_PER_PSI, 1e-12);
    }
}
