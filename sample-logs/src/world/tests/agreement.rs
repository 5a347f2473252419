//! The simulator's own flow laws against published figures and against those the
//! report uses. They are written twice on purpose: a mistake in one shows here.

use crate::world::Restriction;
use seep_common::physics::flow::FlowPath;

/// **Source**: ISO 6358 formula computed independently for ρ0 = 1.185 kg/m³;
/// the first row also printed in a published open worked example.
const MASS_FLOWS: [(f64, f64, f64, f64, f64); 7] = [
    (0.35, 700.0, 100.0, 293.15, 8.295e-3),
    (0.2, 700.0, 600.0, 293.15, 4.730_733_129e-3),
    (0.3, 700.0, 600.0, 293.15, 5.021_825_833e-3),
    (0.528, 700.0, 600.0, 293.15, 5.945_390_08e-3),
    (0.3, 700.0, 350.0, 293.15, 7.949_221_66e-3),
    (0.3, 800.0, 600.0, 313.15, 7.025_835_272e-3),
    (0.3, 200.0, 190.0, 273.15, 9.112_688_8e-4),
];

#[test]
fn mass_flow_agrees_with_the_published_table() {
    for (b, up_kpa, down_kpa, kelvin, kg_s) in MASS_FLOWS {
        let valve = Restriction { c: 1e-8, b };
        let found = valve.flow(up_kpa * 1e3, kelvin, down_kpa * 1e3, kelvin);
        // The table's density is that of moist air, ours of dry.
        let in_table_air = found / crate::world::REFERENCE_DENSITY * 1.185;
        assert!((in_table_air / kg_s - 1.0).abs() < 1e-8, "{b} {up_kpa}");
    }
}

/// **Source**: ISO 6358-3 (from memory, text not seen), values computed
/// independently; the last column by solving the joint directly.
#[test]
fn elements_in_series_agree_with_the_table_and_with_the_joint() {
    for (c1, c2, c12, b12, kg_s) in [
        (1e-8, 2e-8, 9.653_487_059_20e-9, 0.184_589, 6.059_576_97e-3),
        (2e-8, 1e-8, 9.213_061_859_41e-9, 0.257_296, 6.044_443_7e-3),
        (1e-8, 1e-8, 7.572_155_500_90e-9, 0.197_274, 4.817_248_61e-3),
    ] {
        let (first, second) = (Restriction { c: c1, b: 0.3 }, Restriction { c: c2, b: 0.3 });
        let both = first.then(second);
        assert!((both.c / c12 - 1.0).abs() < 1e-10);
        assert!((both.b - b12).abs() < 1e-6);
        let joint = super::super::flow::joint_pressure(500e3, 700e3, |pa| {
            first.flow(700e3, 293.15, pa, 293.15) - second.flow(pa, 293.15, 500e3, 293.15)
        });
        let exact = first.flow(700e3, 293.15, joint, 293.15);
        let in_table_air = exact / crate::world::REFERENCE_DENSITY * 1.185;
        assert!((in_table_air / kg_s - 1.0).abs() < 1e-6);
        // The rule puts one ellipse for two: half a percent here.
        let whole = both.flow(700e3, 293.15, 500e3, 293.15);
        assert!((whole / exact - 1.0).abs() < 0.006, "{whole} {exact}");
    }
}

#[test]
fn the_report_computes_with_the_same_laws() {
    for c in [0.02, 0.1, 0.9] {
        for b in [0.15, 0.3, 0.5] {
            let ours = Restriction::from_l_s_bar(c, b);
            let theirs = FlowPath::new(c, b).expect("a valid path");
            for step in 0..=20 {
                let down_kpa = 100.0 + 45.0 * f64::from(step);
                let found = ours.flow(1_000e3, 301.0, down_kpa * 1e3, 280.0);
                let litres_s = crate::world::anr_litres(found);
                let expected = theirs.anr_l_per_s(1_000.0, down_kpa, 301.0);
                assert!((litres_s - expected).abs() < 1e-9 * c, "{c} {b} {down_kpa}");
            }
        }
    }
}
