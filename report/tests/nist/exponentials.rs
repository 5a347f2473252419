//! The exponential models, which find their own starts.

use seep_report::analysis::fit::{Constant, decay, exponentials, offset_decay};

use crate::dat::Dat;
use crate::digits::agree;

#[test]
fn mgh17_is_two_decays_and_a_constant() {
    let dat = Dat::read("MGH17");
    let fit = exponentials(&dat.x(), &dat.y, None, 2, Constant::Fitted).unwrap();
    // NIST: b1 + b2·exp(−x·b4) + b3·exp(−x·b5), b4 the slower.
    let order = |b: &[f64]| [b[1], b[3], b[2], b[4], b[0]];
    agree("MGH17 values", &fit.values, &order(&dat.values), 6.0);
    agree(
        "MGH17 errors",
        &fit.standard_errors,
        &order(&dat.errors),
        4.0,
    );
    agree(
        "MGH17 rss, sd",
        &[fit.rss, fit.residual_sd],
        &[dat.rss, dat.residual_sd],
        8.0,
    );
}

#[test]
fn lanczos3_is_three_decays() {
    let dat = Dat::read("Lanczos3");
    let fit = exponentials(&dat.x(), &dat.y, None, 3, Constant::Zero).unwrap();
    agree("Lanczos3 values", &fit.values, &dat.values, 6.0);
    agree("Lanczos3 errors", &fit.standard_errors, &dat.errors, 4.0);
    agree("Lanczos3 rss", &[fit.rss], &[dat.rss], 6.0);
}

/// a, k, c of y = a·exp(−k·t) + c with all free. Reference: Gauss–Newton with
/// 40 digits on the same data.
#[track_caller]
fn offset(name: &str, t: &[f64], y: &[f64], akc: [f64; 3], rss: f64) -> Vec<f64> {
    let fit = offset_decay(t, y, None).unwrap().curve().unwrap();
    agree(&format!("{name} a, k, c"), &fit.values, &akc, 8.0);
    agree(&format!("{name} rss"), &[fit.rss], &[rss], 8.0);
    fit.standard_errors
}

#[test]
fn misra1a_and_boxbod_with_a_free_constant() {
    let dat = Dat::read("Misra1a");
    let akc = [
        -248.592_201_208_27,
        5.222_898_028_125_4e-4,
        248.870_219_975_18,
    ];
    offset("Misra1a", &dat.x(), &dat.y, akc, 0.053_739_250_537_006);
    let dat = Dat::read("BoxBOD");
    let akc = [
        -164.406_796_170_61,
        0.227_804_139_183_46,
        242.669_764_813_49,
    ];
    let errors = offset("BoxBOD", &dat.x(), &dat.y, akc, 251.041_446_708_79);
    agree("BoxBOD errors", &errors, &[16.494, 0.086_258, 21.879], 4.0);
}

/// Source: R, datasets Loblolly and Indometh, and the reference output of its
/// example for SSasymp and SSbiexp (r-source,
/// tests/Examples/stats-Ex.Rout.save).
const LOB_329: ([f64; 6], [f64; 6]) = (
    [3.0, 5.0, 10.0, 15.0, 20.0, 25.0],
    [3.93, 9.34, 26.08, 37.79, 48.31, 56.43],
);
const INDOMETH_1: ([f64; 11], [f64; 11]) = (
    [0.25, 0.5, 0.75, 1.0, 1.25, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0],
    [
        1.5, 0.94, 0.78, 0.48, 0.37, 0.19, 0.12, 0.11, 0.08, 0.07, 0.05,
    ],
);

#[test]
fn loblolly_pines_grow_to_an_asymptote() {
    let (t, y) = LOB_329;
    let akc = [
        -102.378_962_430_82,
        0.040_051_935_791_414,
        94.128_209_873_836,
    ];
    let errors = offset("Lob.329", &t, &y, akc, 1.684_401_459_868_5);
    let certified = [7.498_923_136_79, 0.005_550_544_565_87, 8.403_019_144_73];
    agree("Lob.329 errors", &errors, &certified, 7.0);
    // As R prints it: Asym 94.1282 (8.4030), R0 −8.2508 (1.2261), lrc −3.2176.
    let fit = offset_decay(&t, &y, None).unwrap();
    let curve = fit.curve().unwrap();
    let at_zero = curve.values[0] + curve.values[2];
    assert!((at_zero + 8.2508).abs() < 5e-5);
    assert!((curve.standard_error_of(&[1.0, 0.0, 1.0]) - 1.2261).abs() < 5e-5);
    assert!((curve.values[1].ln() + 3.2176).abs() < 5e-5);
    assert!((curve.residual_sd - 0.7493).abs() < 5e-5);
}

#[test]
fn loblolly_first_group() {
    let y = [4.51, 10.89, 28.72, 41.74, 52.7, 60.92];
    let akc = [
        -104.745_192_682_36,
        0.044_317_196_000_518,
        95.666_965_001_342,
    ];
    offset(
        "Loblolly first group",
        &LOB_329.0,
        &y,
        akc,
        1.181_183_492_102_1,
    );
}

#[test]
fn indometacin_leaves_the_blood_in_two_decays() {
    let (t, y) = INDOMETH_1;
    let fit = exponentials(&t, &y, None, 2, Constant::Zero).unwrap();
    let (slow, fast) = (-1.787_783_308_869_1_f64, 0.579_389_767_572_56_f64);
    let certified = [
        0.191_547_959_424_87,
        slow.exp(),
        2.029_278_015_644_2,
        fast.exp(),
    ];
    agree("Indometh values", &fit.values, &certified, 8.0);
    // R prints standard errors of ln k: the error of k is k times that.
    let errors = [0.1106, 0.7871 * slow.exp(), 0.1099, 0.1247 * fast.exp()];
    agree("Indometh errors", &fit.standard_errors, &errors, 3.0);
    let akc = [
        2.066_296_397_925_8,
        1.590_017_102_369_4,
        0.084_446_441_669_773,
    ];
    let errors = offset("Indometh, one decay", &t, &y, akc, 0.014_729_200_545_832);
    let certified = [0.092_407_408_147_2, 0.102_581_052_465, 0.019_075_397_753_1];
    agree("Indometh, one decay, errors", &errors, &certified, 7.0);
}

#[test]
fn curve_fitting_example_of_ceres() {
    // Printed by the tutorial, which stops early: m 0.291861, c 0.131439. To
    // the end (40 digits): m 0.2918712, c 0.13140137, half rss 1.0567512904.
    let text = crate::dat::text("ceres_curve_fitting.csv");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(2)
        .map(|l| l.split(',').map(|v| v.parse().unwrap()).collect())
        .collect();
    assert_eq!(rows.len(), 67);
    let t: Vec<f64> = rows.iter().map(|r| r[0]).collect();
    let y: Vec<f64> = rows.iter().map(|r| r[1]).collect();
    let fit = decay(&t, &y, None).unwrap();
    let (m, c) = (-fit.values[1], fit.values[0].ln());
    agree("Ceres m, c", &[m, c], &[0.291_871_2, 0.131_401_37], 6.5);
    agree("Ceres half rss", &[fit.rss / 2.0], &[1.056_751_290_4], 9.0);
    assert!((m - 0.291861).abs() < 2e-5 && (c - 0.131439).abs() < 5e-5);
}
