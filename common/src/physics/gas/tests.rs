use super::*;

fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "got {got}, want {want}"
    );
}

/// SI brochure (2019) for R; 287.0550228 J/(kg·K) follows from 28.9647 g/mol.
#[test]
fn specific_constant_of_dry_air() {
    close(
        IdealGas::DRY_AIR.specific_constant_j_per_kg_k,
        287.055_022_8,
        1e-9,
    );
    close(MOLAR_GAS_CONSTANT, 8.314_472, 2e-6); // the older value in 40 CFR 1065
}

/// Ideal densities computed with R = 287.05; real ones computed with CoolProp
/// 8.0.0 (equation of Lemmon et al. 2000). The ideal law must stay within
/// 0.5 % of the real gas, as its documentation says.
#[test]
fn density_against_real_air() {
    let air = IdealGas {
        specific_constant_j_per_kg_k: 287.05,
        heat_capacity_ratio: 1.4,
    };
    for (kpa, t_k, ideal, real) in [
        (101.325, 273.15, 1.292_283_67, 1.293_065_62),
        (101.325, 288.15, 1.225_012_27, 1.225_539_02),
        (101.325, 293.15, 1.204_118_32, 1.204_575_18),
        (100.0, 293.15, 1.188_372_38, 1.188_817_47),
        (800.0, 273.15, 10.203_078_57, 10.249_948_82),
        (800.0, 293.15, 9.506_979_06, 9.533_799_78),
        (1100.0, 313.15, 12.237_218_59, 12.261_234_54),
    ] {
        close(air.density_kg_per_m3(kpa, t_k), ideal, 5e-9);
        close(IdealGas::DRY_AIR.density_kg_per_m3(kpa, t_k), real, 5e-3);
    }
}

/// ISO 8778 rounds the density of its reference air to 1.185 kg/m³. Humid air
/// at 100 kPa, 20 °C, 65 % has 1.1820313 by CoolProp 8.0.0; with saturation
/// pressure 2339.318 Pa (CoolProp) and 461.52 J/(kg·K) for vapour (from memory)
/// the two ideal gases give the same within 0.1 %.
#[test]
fn anr_density_is_humid_air() {
    let vapour_kpa = 0.65 * 2.339_318;
    let dry = IdealGas::DRY_AIR.density_kg_per_m3(ANR_KPA_ABS - vapour_kpa, ANR_K);
    let vapour = IdealGas {
        specific_constant_j_per_kg_k: 461.52,
        heat_capacity_ratio: 1.33,
    }
    .density_kg_per_m3(vapour_kpa, ANR_K);
    close(dry + vapour, 1.182_031_3, 1e-3);
    close(ANR_DENSITY_KG_PER_M3, dry + vapour, 3.5e-3);
}

/// Viscosity of air computed with CoolProp 8.0.0 at 101.325 kPa (equation of
/// Lemmon and Jacobsen 2004). US Standard Atmosphere 1976 prints 1.7894e-5 at
/// 288.15 K (from memory).
#[test]
fn viscosity_against_real_air() {
    close(air_viscosity_pa_s(288.15), 1.7894e-5, 2e-5);
    for (t_k, real) in [
        (243.15, 1.568_068_6e-5),
        (263.15, 1.671_370_4e-5),
        (273.15, 1.721_840_6e-5),
        (293.15, 1.820_567_5e-5),
        (313.15, 1.916_523_4e-5),
        (333.15, 2.009_905_9e-5),
    ] {
        close(air_viscosity_pa_s(t_k), real, 1e-2);
        let ratio = air_viscosity_pa_s(t_k) / air_viscosity_pa_s(ANR_K);
        close(ratio, real / 1.820_567_5e-5, 2e-3);
    }
}

/// 40 CFR 1065.640, published worked example (as printed: 19.619 mol/s; more
/// digits computed with the R of the regulation, 8.314472): 0.471948 m³/s at
/// 101325 Pa and 293.15 K.
#[test]
fn molar_flow_of_40_cfr_1065() {
    let mol_per_s = amount_mol(101.325, 471.948, 293.15);
    close(mol_per_s, 19.619, 3e-5);
    close(
        mol_per_s * MOLAR_GAS_CONSTANT / 8.314_472,
        19.619_421_1,
        3e-9,
    );
}

/// Computed from the ideal gas law: 1 K at 20 °C moves 801.325 kPa by
/// 2733.498 Pa, 101.325 kPa by 345.642 Pa; cooling by 3 K explains 8168 of
/// 10000 Pa.
#[test]
fn temperature_compensation() {
    close(1000.0 * kpa_per_kelvin(801.325, 293.15), 2733.498, 2e-7);
    close(1000.0 * kpa_per_kelvin(101.325, 293.15), 345.642, 1e-6);
    let compensated = pressure_at_temperature_kpa_abs(790.0, 290.15, 293.15);
    close(1000.0 * compensated, 798_168.188_868, 1e-12);
    close(1000.0 * (800.0 - compensated), 1_831.811_132, 1e-9);
}

#[test]
fn amounts_agree_and_invert() {
    let anr = amount_anr_l(612.0, 3.4, 281.0);
    close(anr * MOL_PER_ANR_L, amount_mol(612.0, 3.4, 281.0), 1e-14);
    close(pressure_kpa_abs(anr, 3.4, 281.0), 612.0, 1e-14);
    close(volume_l(anr, 612.0, 281.0), 3.4, 1e-14);
}
