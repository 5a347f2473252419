//! Correction for many tests.

use super::*;

/// Holm 1979 as R's p.adjust gives it (computed by hand).
#[test]
fn holm_steps_down() {
    let got = holm(&[0.01, 0.02, 0.03, 0.04, 0.05]);
    for (g, want) in got.iter().zip([0.05, 0.08, 0.09, 0.09, 0.09]) {
        close(*g, want, 1e-12);
    }
    assert_eq!(holm(&[0.9, 0.8]), vec![1.0, 1.0]);
    assert!(holm(&[]).is_empty());
}

/// What is not a number proves nothing.
#[test]
fn values_that_are_no_numbers_claim_nothing() {
    let corrected = holm(&[0.001, f64::NAN, 0.02]);
    close(corrected[0], 0.003, 1e-12);
    assert!(corrected[1].is_nan());
    close(corrected[2], 0.04, 1e-12);
}
