use super::*;
use crate::physics::gas::{ANR_DENSITY_KG_PER_M3, IdealGas};
use proptest::prelude::*;

fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "got {got}, want {want}"
    );
}

fn path(c: f64, b: f64) -> FlowPath {
    FlowPath::new(c, b).expect("valid test path")
}

const TEXTBOOK_AIR: IdealGas = IdealGas {
    specific_constant_j_per_kg_k: 287.05,
    heat_capacity_ratio: 1.4,
};

fn hole_1mm() -> IdealNozzle {
    IdealNozzle {
        gas: TEXTBOOK_AIR,
        ..IdealNozzle::round_mm(1.0, 1.0)
    }
}

/// ISO 6358-1. 0.008295 kg/s is a published worked example (C = 1e-8 m³/(s·Pa),
/// b = 0.35, 700 to 100 kPa); the other rows are computed from the formula.
#[test]
fn mass_flow_table() {
    for (b, p1, p2, t1, kg_per_s) in [
        (0.35, 700.0, 100.0, 293.15, 8.295e-3),
        (0.2, 700.0, 600.0, 293.15, 4.730_733_129e-3),
        (0.3, 700.0, 600.0, 293.15, 5.021_825_833e-3),
        (0.5, 700.0, 600.0, 293.15, 5.805_290_69e-3),
        (0.528, 700.0, 600.0, 293.15, 5.945_390_08e-3),
        (0.3, 700.0, 350.0, 293.15, 7.949_221_66e-3),
        (0.3, 800.0, 600.0, 313.15, 7.025_835_272e-3),
        (0.3, 200.0, 190.0, 273.15, 9.112_688_8e-4),
    ] {
        let flow = path(1.0, b).anr_l_per_s(p1, p2, t1);
        close(flow * ANR_DENSITY_KG_PER_M3 * 1e-3, kg_per_s, 2e-9);
    }
    assert!(path(1.0, 0.3).anr_l_per_s(200.0, 200.0, 293.15).abs() < 1e-300);
}

/// Computed (R 287.05, k 1.4, ρ0 1.185): C of an ideal 1 mm nozzle.
#[test]
fn conductance_of_an_ideal_nozzle() {
    let hole = hole_1mm();
    close(hole.conductance_l_per_s_bar(), 0.156_447_3, 1e-7);
    let per_mm2 = hole.conductance_l_per_s_bar() / hole.area_mm2;
    close(per_mm2, 0.199_195, 3e-6);
}

/// Critical ratio and flow coefficient, computed (fluids 1.3.1 gives the same
/// critical pressure, 528281.7877171742 Pa from 1 MPa); 40 CFR 1065.640 prints
/// 0.6822 and 0.6846 for k = 1.385 and 1.399 (from memory).
#[test]
fn nozzle_coefficients() {
    for (k, ratio, coefficient) in [
        (1.3, 0.545_727_733_814_065, 0.667_262_351_240_862),
        (1.385, 0.530_821_368_681_613_7, 0.682_185_490_356_671_4),
        (1.399, 0.528_450_274_571_335_5, 0.684_562_509_885_343),
        (1.4, 0.528_281_787_717_174_2, 0.684_731_456_377_270_4),
        (1.67, 0.486_668_529_137_661_3, 0.726_661_467_419_825_1),
    ] {
        close(critical_pressure_ratio(k), ratio, 1e-14);
        close(choked_coefficient(k), coefficient, 1e-14);
    }
}

/// Computed: 1 mm, Cd 1, 293.15 K, R 287.05, k 1.4, into 101.325 kPa; litres
/// a minute at ANR (1.185 kg/m³) and at 0 °C, 101.325 kPa.
#[test]
fn nozzle_table() {
    let hole = hole_1mm();
    for (p1, kg_per_s, anr_l_min, normal_l_min) in [
        (111.325, 1.214_523_709_1e-4, 6.149_487, 5.638_965),
        (151.325, 2.678_356_646_1e-4, 13.561_299, 12.435_458),
        (191.325, 3.546_961_805_1e-4, 17.959_300, 16.468_343),
        (201.325, 3.732_365_307_3e-4, 18.898_052, 17.329_161),
        (301.325, 5.586_265_869_7e-4, 28.284_890, 25.936_717),
        (601.325, 1.114_796_755_7e-3, 56.445_405, 51.759_383),
        (801.325, 1.485_576_868_2e-3, 75.219_082, 68.974_494),
        (1101.325, 2.041_747_036_9e-3, 103.379_597, 94.797_160),
    ] {
        let got = hole.mass_kg_per_s(p1, 101.325, 293.15);
        close(got, kg_per_s, 1e-10);
        close(got / ANR_DENSITY_KG_PER_M3 * 60_000.0, anr_l_min, 1e-7);
        let normal = 101_325.0 / (287.05 * 273.15);
        close(got / normal * 60_000.0, normal_l_min, 1e-7);
    }
    close(101.325 / critical_pressure_ratio(1.4), 191.801_047, 1e-8);
}

/// 40 CFR 1065.642, published worked example of a critical-flow venturi:
/// Cd 0.985, Cf 0.7219, 0.00456 m², 98.836 kPa, 28.7805 g/mol, 378.15 K give
/// 33.690 mol/s. Cf there includes the venturi's approach velocity, so it
/// replaces the coefficient of the nozzle.
#[test]
fn critical_flow_venturi_of_40_cfr_1065() {
    let molar_mass = 0.028_780_5;
    let k = 1.385;
    let nozzle = IdealNozzle {
        area_mm2: 4560.0,
        discharge_coefficient: 0.985 * 0.7219 / choked_coefficient(k),
        gas: IdealGas {
            specific_constant_j_per_kg_k: 8.314_472 / molar_mass,
            heat_capacity_ratio: k,
        },
    };
    let mol_per_s = nozzle.mass_kg_per_s(98.836, 0.0, 378.15) / molar_mass;
    close(mol_per_s, 33.690, 2e-5);
}

/// 40 CFR 1065.642, published worked example of a subsonic venturi: 99.132 kPa,
/// drop 2.312 kPa, throat ratio 0.8, k 1.399 give Cf 0.274 and, with Cd 0.990
/// and 0.01824 m² at 298.15 K, 58.173 mol/s (58.1539 with Cd exactly 0.990). Cf
/// is the nozzle's coefficient divided by the approach-velocity factor.
#[test]
fn subsonic_venturi_of_40_cfr_1065() {
    let (k, molar_mass) = (1.399, 0.028_780_5);
    let ratio: f64 = 1.0 - 2.312 / 99.132;
    let approach = (1.0 - 0.8_f64.powi(4) * ratio.powf(2.0 / k)).sqrt();
    let mut nozzle = IdealNozzle {
        area_mm2: 18_240.0,
        discharge_coefficient: 0.990,
        gas: IdealGas {
            specific_constant_j_per_kg_k: 8.314_472 / molar_mass,
            heat_capacity_ratio: k,
        },
    };
    let cf = nozzle.flow_coefficient(ratio) / approach;
    close(cf, 0.274_403, 2e-6);
    nozzle.discharge_coefficient /= approach;
    let mol_per_s = nozzle.mass_kg_per_s(99.132, 99.132 * ratio, 298.15) / molar_mass;
    close(mol_per_s, 58.173, 4e-4);
}

#[test]
fn characteristics_outside_their_domain_are_refused() {
    for (c, b) in [
        (0.0, 0.3),
        (-1.0, 0.3),
        (f64::NAN, 0.3),
        (1.0, 1.0),
        (1.0, -0.1),
    ] {
        assert!(FlowPath::new(c, b).is_err(), "{c} {b}");
    }
}

proptest! {
    /// Flow never rises with the downstream pressure and never exceeds choked flow.
    #[test]
    fn flow_falls_with_back_pressure(
        b in 0.0..0.9_f64, p1 in 60.0..1200.0_f64, r1 in 0.0..1.0_f64, r2 in 0.0..1.0_f64,
    ) {
        let valve = path(1.0, b);
        let (low, high) = (r1.min(r2), r1.max(r2));
        let more = valve.anr_l_per_s(p1, p1 * low, 293.15);
        let less = valve.anr_l_per_s(p1, p1 * high, 293.15);
        prop_assert!(less <= more * (1.0 + 1e-12));
        prop_assert!(more <= p1 / 100.0 * (1.0 + 1e-12));
    }
}
