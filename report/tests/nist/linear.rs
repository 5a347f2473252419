//! Linear regression: Norris.

use seep_report::analysis::fit::line;

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
