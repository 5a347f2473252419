//! Linear regression: Norris.

use seep_report::analysis::fit::{Intercept, line, linear};

use crate::dat::{lines, numbers, range, text};
use crate::digits::agree;

#[test]
fn norris() {
    // Certified values as printed in the file's header.
    let text = text("nist/Norris.dat");
    let (first, last) = range(&text, "data  ");
    let data: Vec<Vec<f64>> = lines(&text, first, last).map(numbers).collect();
    assert_eq!(data.len(), 36);
    let y: Vec<f64> = data.iter().map(|r| r[0]).collect();
    let x: Vec<f64> = data.iter().map(|r| r[1]).collect();
    let found = line(&x, &y, None).unwrap();
    let fit = &found.fit;
    agree(
        "Norris values",
        &fit.values,
        &[-0.262323073774029, 1.00211681802045],
        9.0,
    );
    let errors = [0.232818234301152, 0.429796848199937E-03];
    agree("Norris errors", &fit.standard_errors, &errors, 9.0);
    agree(
        "Norris residual sd",
        &[fit.residual_sd],
        &[0.884796396144373],
        9.0,
    );
    agree(
        "Norris R squared",
        &[found.r_squared],
        &[0.999993745883712],
        9.0,
    );
    agree("Norris F", &[found.f], &[5436385.54079785], 9.0);
}

/// Price index, product, unemployed, armed forces, population, year, employed.
/// Source: NIST StRD, Longley (1967), as carried by R (dataset longley), whose
/// values are those of NIST over 1 (first), 1000 or 10.
const LONGLEY: [[f64; 7]; 16] = [
    [83.0, 234.289, 235.6, 159.0, 107.608, 1947.0, 60.323],
    [88.5, 259.426, 232.5, 145.6, 108.632, 1948.0, 61.122],
    [88.2, 258.054, 368.2, 161.6, 109.773, 1949.0, 60.171],
    [89.5, 284.599, 335.1, 165.0, 110.929, 1950.0, 61.187],
    [96.2, 328.975, 209.9, 309.9, 112.075, 1951.0, 63.221],
    [98.1, 346.999, 193.2, 359.4, 113.27, 1952.0, 63.639],
    [99.0, 365.385, 187.0, 354.7, 115.094, 1953.0, 64.989],
    [100.0, 363.112, 357.8, 335.0, 116.219, 1954.0, 63.761],
    [101.2, 397.469, 290.4, 304.8, 117.388, 1955.0, 66.019],
    [104.6, 419.18, 282.2, 285.7, 118.734, 1956.0, 67.857],
    [108.4, 442.769, 293.6, 279.8, 120.445, 1957.0, 68.169],
    [110.8, 444.546, 468.1, 263.7, 121.95, 1958.0, 66.513],
    [112.6, 482.704, 381.3, 255.2, 123.366, 1959.0, 68.655],
    [114.2, 502.601, 393.1, 251.4, 125.368, 1960.0, 69.564],
    [115.7, 518.173, 480.6, 257.2, 127.852, 1961.0, 69.331],
    [116.9, 554.894, 400.7, 282.7, 130.081, 1962.0, 70.551],
];

#[test]
fn longley_with_six_nearly_dependent_regressors() {
    let units = [1.0, 1e3, 10.0, 10.0, 1e3, 1.0, 1e3];
    let whole = LONGLEY.map(|row| std::array::from_fn::<f64, 7, _>(|j| row[j] * units[j]));
    let y = whole.map(|row| row[6]);
    let rows = whole.map(|row| row[..6].to_vec());
    let found = linear(&rows, &y, None, Intercept::Fitted).unwrap();
    // Certified values from memory.
    let values = [
        -3482258.63459582,
        15.0618722713733,
        -0.358191792925910E-01,
        -2.02022980381683,
        -1.03322686717359,
        -0.511041056535807E-01,
        1829.15146461355,
    ];
    let errors = [
        890420.383607373,
        84.9149257747669,
        0.334910077722432E-01,
        0.488399681651699,
        0.214274163161675,
        0.226073200069370,
        455.478499142212,
    ];
    agree("Longley values", &found.fit.values, &values, 9.0);
    agree("Longley errors", &found.fit.standard_errors, &errors, 9.0);
    agree(
        "Longley residual sd",
        &[found.fit.residual_sd],
        &[304.854073561965],
        9.0,
    );
    agree(
        "Longley R squared",
        &[found.r_squared],
        &[0.995479004577296],
        9.0,
    );
    agree("Longley F", &[found.f], &[330.285339234588], 9.0);
}
