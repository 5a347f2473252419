//! A long series with ties and a step.

use super::data::NILE;
use super::*;

/// Nile flow: mean and standard deviation published with the data (R datasets),
/// the rest computed with pymannkendall 1.4.3 and scipy 1.17.1.
#[test]
fn nile() {
    close(mean(&NILE).expect("100"), 919.35, 1e-12);
    close(sd(&NILE).expect("100"), 169.2275, 1e-7);
    let t = mann_kendall(&NILE).expect("100");
    assert_eq!(t.s, -1387);
    close(t.variance, 112_728.333_3, 1e-9);
    close(t.z, -4.128_066_5, 1e-7);
    close(t.p(), 3.658_263e-5, 1e-6);
    let x: Vec<f64> = (0..100).map(f64::from).collect();
    let k = kendall(&x, &NILE).expect("100");
    close(k.tau_b, -0.280_741_33, 1e-7);
    close(k.tau_a, -0.280_202_02, 1e-7);
    let line = theil_sen(&x, &NILE, 0.95).expect("100");
    close(line.slope, -2.6, 1e-12);
    close(line.interval.low, -3.627_907_0, 1e-7);
    close(line.interval.high, -1.428_571_4, 1e-7);
    close(line.intercept, 1022.2, 1e-12);
}
