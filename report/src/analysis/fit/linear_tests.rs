use super::super::outcome::NoFit;
use super::{Intercept, line, linear};

fn close(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} is not {b}");
}

#[test]
fn calibration_curve_of_the_gum() {
    // Source: JCGM 100:2008 (GUM) example H.3, thermometer calibration, tables
    // H.6 and following; more digits computed with 40 digits.
    let t = [
        21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
    ];
    let b = [
        -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
    ];
    let x: Vec<f64> = t.iter().map(|t| t - 20.0).collect();
    let fit = line(&x, &b, None).unwrap();
    close(fit.fit.values[0], -0.171_203_790_131_35, 1e-13);
    close(fit.fit.standard_errors[0], 0.002_877_597_835_16, 1e-13);
    close(fit.fit.values[1], 0.002_182_697_739_89, 1e-13);
    close(fit.fit.standard_errors[1], 0.000_667_938_773_23, 1e-13);
    let covariance = |i, j| fit.fit.covariance[(i, j)];
    let errors = &fit.fit.standard_errors;
    let correlation = covariance(0, 1) / (errors[0] * errors[1]);
    close(correlation, -0.930_429_603_093, 1e-11);
    close(fit.fit.residual_sd, 0.003_497_563_963_51, 1e-13);
    close(fit.fit.degrees_of_freedom, 9.0, 1e-12);
    close(fit.fit.rss, 1.100_965_831_09e-4, 1e-14);
    let at_30 = fit.fit.values[0] + 10.0 * fit.fit.values[1];
    let u = (covariance(0, 0) + 20.0 * covariance(0, 1) + 100.0 * covariance(1, 1)).sqrt();
    close(at_30, -0.149_376_812_732, 1e-11);
    close(u, 0.004_138_595_752_65, 1e-12);
}

#[test]
fn large_offsets_cost_no_digits() {
    // Unix seconds as x: without centring, half the digits are gone.
    let x: Vec<f64> = (0..50).map(|i| 1.7e9 + 600.0 * f64::from(i)).collect();
    let y: Vec<f64> = (0..50).map(|i| 800.0 - 0.05 * f64::from(i)).collect();
    let fit = line(&x, &y, None).unwrap();
    close(fit.fit.values[1] * 600.0, -0.05, 1e-12);
}

#[test]
fn weights_are_repetitions() {
    let once = linear(
        &[[0.0], [1.0], [1.0], [2.0], [2.0], [2.0]],
        &[1.0, 3.0, 3.0, 4.0, 4.0, 4.0],
        None,
        Intercept::Fitted,
    )
    .unwrap();
    let weighted = linear(
        &[[0.0], [1.0], [2.0]],
        &[1.0, 3.0, 4.0],
        Some(&[1.0, 2.0, 3.0]),
        Intercept::Fitted,
    )
    .unwrap();
    for j in 0..2 {
        close(once.fit.values[j], weighted.fit.values[j], 1e-12);
    }
    close(once.fit.rss, weighted.fit.rss, 1e-12);
    close(once.r_squared, weighted.r_squared, 1e-12);
}

#[test]
fn several_regressors_without_intercept() {
    // Exact by construction: y = 2·x₁ − 3·x₂, with scales 1 and 1e6.
    let rows: Vec<Vec<f64>> = (1..8)
        .map(|i| vec![f64::from(i), f64::from(i * i % 5) * 1e6])
        .collect();
    let y: Vec<f64> = rows.iter().map(|r| 2.0 * r[0] - 3.0 * r[1]).collect();
    let fit = linear(&rows, &y, None, Intercept::Zero).unwrap();
    close(fit.fit.values[0], 2.0, 1e-8);
    close(fit.fit.values[1], -3.0, 1e-12);
    close(fit.r_squared, 1.0, 1e-12);
}

#[test]
fn regressors_that_cannot_be_told_apart_are_named() {
    let rows: Vec<[f64; 3]> = (0..9)
        .map(|i| {
            let t = f64::from(i);
            [t, t * t, 3.0 * t]
        })
        .collect();
    let y: Vec<f64> = (0..9).map(f64::from).collect();
    let why = linear(&rows, &y, None, Intercept::Fitted).unwrap_err();
    assert_eq!(
        why,
        NoFit::NotIdentifiable {
            parameters: vec![1, 3]
        }
    );
    // A regressor that does not vary is the intercept again.
    let flat = line(&[5.0; 9], &y, None).unwrap_err();
    assert_eq!(
        flat,
        NoFit::NotIdentifiable {
            parameters: vec![1]
        }
    );
}

#[test]
fn bad_input_says_what_and_where() {
    let few = line(&[0.0, 1.0], &[1.0, 2.0], None).unwrap_err();
    assert_eq!(
        few.to_string(),
        "2 points are too few: 3 or more are needed"
    );
    let x = [0.0, 1.0, 2.0, 3.0];
    let y = [0.0, 1.0, f64::NAN, 3.0];
    assert_eq!(
        line(&x, &y, None).unwrap_err(),
        NoFit::NotFinite { point: 2 }
    );
    assert_eq!(
        line(&y, &x, None).unwrap_err(),
        NoFit::NotFinite { point: 2 }
    );
    let w = Some([1.0, 0.0, 1.0, 1.0]);
    let why = line(&x, &x, w.as_ref().map(|w| &w[..])).unwrap_err();
    assert_eq!(why, NoFit::BadWeight { point: 1 });
    assert!(matches!(
        line(&x, &y[..2], None).unwrap_err(),
        NoFit::LengthsDiffer {
            points: 2,
            other: 4
        }
    ));
}

#[test]
fn correlated_residuals_widen_the_interval() {
    // A straight line plus a slow wave the model does not know; invented data.
    let x: Vec<f64> = (0..200).map(f64::from).collect();
    let y: Vec<f64> = x
        .iter()
        .map(|x| 5.0 - 0.01 * x + (x / 15.0).sin())
        .collect();
    let fit = line(&x, &y, None).unwrap().fit;
    assert!(fit.residual_lag1.unwrap() > 0.95);
    let corrected = fit.allowing_for_autocorrelation();
    assert!(corrected.degrees_of_freedom < 5.0);
    assert!(corrected.standard_errors[1] > 5.0 * fit.standard_errors[1]);
    assert!(corrected.standard_errors[1].is_finite());
    assert_eq!(corrected.values, fit.values);
    // Twice is as good as once.
    let twice = corrected.allowing_for_autocorrelation();
    close(
        twice.standard_errors[1],
        corrected.standard_errors[1],
        1e-12,
    );
}

#[test]
fn a_perfect_fit_has_no_spread() {
    let x: Vec<f64> = (0..40).map(f64::from).collect();
    let fit = line(&x, &[1.0; 40], None).unwrap();
    close(fit.fit.values[0], 1.0, 1e-14);
    assert!(fit.r_squared.is_nan());
    assert!(fit.fit.standard_errors[1] < 1e-16);
}
