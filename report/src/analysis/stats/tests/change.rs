//! Control charts and change detection against worked tables.

use super::*;

/// NIST/SEMATECH e-Handbook 6.3.2.3 (published): group means.
const GROUPS: [f64; 20] = [
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
];

fn near(got: f64, want: f64, within: f64, at: usize) {
    assert!((got - want).abs() <= within, "{at}: got {got}, want {want}");
}

/// NIST/SEMATECH e-Handbook 6.3.2.3 (published, two decimals of some sums
/// printed): target 325, k 0.3175, h 4.1959, first signal at group 14.
#[test]
fn cusum_of_the_e_handbook() {
    let chart = Cusum {
        target: 325.0,
        allowance: 0.3175,
        decision: 4.1959,
    };
    let high = [
        0.0, 0.0, 0.0, 0.0, 0.0325, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3.0075, 4.94, 7.4475, 10.63,
        11.9875, 14.445, 16.0025, 19.035,
    ];
    let low = [
        0.0, 0.0075, 0.0, 0.3325, 0.0, 0.0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0.0, 0.0, 0.0,
        0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
    ];
    let points = chart.run(&GROUPS);
    for (i, p) in points.iter().enumerate() {
        near(p.high, high[i], 1e-9, i);
        near(p.low, low[i], 1e-9, i);
        assert_eq!(p.signal, i >= 13, "group {}", i + 1);
    }
}

/// Montgomery's concentration data (published, reprint): target 99, K 1, H 10,
/// no signal.
#[test]
fn cusum_of_the_concentration_data() {
    let x = [
        102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4,
        97.0, 96.7, 100.3, 101.4, 97.2, 101.0,
    ];
    let high = [
        2.0, 0.0, 0.0, 0.0, 2.0, 0.5, 0.0, 0.0, 0.0, 0.0, 1.3, 0.0, 1.1, 0.0, 0.0, 0.0, 0.3, 1.7,
        0.0, 1.0,
    ];
    let low = [
        0.0, 3.2, 2.9, 2.5, 0.0, 0.0, 0.0, 0.3, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 2.3, 0.0, 0.0,
        0.8, 0.0,
    ];
    let chart = Cusum {
        target: 99.0,
        allowance: 1.0,
        decision: 10.0,
    };
    for (i, p) in chart.run(&x).iter().enumerate() {
        near(p.high, high[i], 1e-9, i);
        near(p.low, low[i], 1e-9, i);
        assert!(!p.signal);
    }
}

/// NIST/SEMATECH e-Handbook 6.3.2.4.
const BATCHES: [f64; 20] = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
    52.6, 52.4, 53.6, 52.1,
];

/// NIST/SEMATECH e-Handbook 6.3.2.4 (published to two decimals; five computed):
/// start 50, s 2.0539, λ 0.3, limits 52.5884 and 47.4115 (printed with a
/// rounded root; 47.411568 unrounded), no signal.
#[test]
fn ewma_of_the_e_handbook() {
    let z = [
        50.60, 49.52, 50.564, 50.1848, 50.15936, 49.21155, 49.74809, 49.85366, 50.25756, 50.33029,
        50.11121, 49.35784, 49.52049, 50.05434, 49.37804, 49.92463, 50.72724, 51.22907, 51.94035,
        51.98824,
    ];
    let printed = [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52,
        50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    let chart = Ewma {
        target: 50.0,
        sd: 2.0539,
        weight: 0.3,
        width: 3.0,
    };
    let limits = chart.limits();
    near(limits.high, 52.588_431_738, 1e-8, 0);
    near(limits.low, 47.411_568_262, 1e-8, 0);
    near(limits.low, 47.4115, 1e-4, 0);
    for (i, got) in chart.run(&BATCHES).into_iter().enumerate() {
        near(got, z[i], 6e-6, i);
        near(got, printed[i], 0.0051, i);
        assert!(got < limits.high && got > limits.low);
    }
    near(chart.limits_after(500).high, limits.high, 1e-12, 0);
    near(
        chart.limits_after(1).high,
        50.0 + 3.0 * 2.0539 * 0.3,
        1e-12,
        0,
    );
}

/// NIST/SEMATECH e-Handbook 6.3.2.2 (published): individuals chart.
#[test]
fn individuals_chart_of_the_e_handbook() {
    let last_ten = &BATCHES[10..];
    let band = individuals_limits(last_ten).expect("ten");
    near(band.centre, 50.81, 1e-9, 0);
    near(
        short_term_sd(last_ten).expect("ten") * 1.128,
        1.8778,
        5e-5,
        0,
    );
    near(band.high, 55.8041, 1e-4, 0);
    near(band.low, 45.8159, 1e-4, 0);
}

/// Computed by hand on the e-Handbook's CUSUM data (no published worked table
/// is known): δ 0.3175, λ 4.1959, signal at group 14.
#[test]
fn page_hinkley_on_the_cusum_data() {
    let want = [
        0.0, 0.0, 0.0, 0.0, 0.2275, 0.26, 0.0, 0.0, 0.11583, 0.0, 0.0, 0.04083, 2.98487, 4.69773,
        6.8119, 9.4069, 10.11293, 11.80098, 12.53085, 14.6096,
    ];
    let test = PageHinkley {
        tolerance: 0.3175,
        threshold: 4.1959,
    };
    let got = test.run(&GROUPS);
    for (i, height) in got.iter().enumerate() {
        near(*height, want[i], 6e-6, i);
    }
    assert_eq!(got.iter().position(|h| *h > test.threshold), Some(13));
}
