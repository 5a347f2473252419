//! Mean, standard deviation and lag-1 autocorrelation.

use seep_report::analysis::stats::{lag1_autocorrelation, mean, sd};

use crate::digits::agree;

/// Set, number of values, mean and standard deviation certified by NIST; lag-1
/// coefficient certified for Lew, the others computed with numpy. Digits
/// needed of the three: in NumAcc3 and NumAcc4 the inputs themselves are
/// rounded to binary, which leaves 0.1000000000349 and 0.100000000559.
type Row = (&'static str, usize, f64, f64, f64, [f64; 3]);
const SETS: [Row; 9] = [
    (
        "Lew",
        200,
        -177.435,
        277.332168044316,
        -0.307304800605679,
        [11.0, 11.0, 11.0],
    ),
    (
        "Lottery",
        218,
        518.958715596330,
        291.699727470969,
        -0.120948622967,
        [11.0, 11.0, 10.0],
    ),
    (
        "Mavro",
        50,
        2.001856,
        0.000429123454003053,
        0.937989183438,
        [11.0, 11.0, 10.0],
    ),
    (
        "Michelso",
        100,
        299.8524,
        0.0790105478190518,
        0.535199668621,
        [11.0, 11.0, 10.0],
    ),
    (
        "PiDigits",
        5000,
        4.5348,
        2.86733906028871,
        -0.003550992872,
        [11.0, 11.0, 9.0],
    ),
    ("NumAcc1", 3, 10000002.0, 1.0, -0.5, [11.0, 11.0, 11.0]),
    ("NumAcc2", 1001, 1.2, 0.1, -0.999, [11.0, 11.0, 11.0]),
    ("NumAcc3", 1001, 1000000.2, 0.1, -0.999, [11.0, 9.0, 8.0]),
    ("NumAcc4", 1001, 10000000.2, 0.1, -0.999, [11.0, 8.0, 7.0]),
];

#[test]
fn univariate_sets() {
    for (name, n, certified_mean, certified_sd, lag1, needed) in SETS {
        let text = crate::dat::text(&format!("nist/univariate/{name}.csv"));
        let values: Vec<f64> = text
            .lines()
            .skip(1)
            .map(|l| l.trim().parse().unwrap())
            .collect();
        assert_eq!(values.len(), n, "{name}");
        let found = [
            (mean(&values), certified_mean, "mean"),
            (sd(&values), certified_sd, "sd"),
            (lag1_autocorrelation(&values), lag1, "lag 1"),
        ];
        for ((value, certified, what), needed) in found.into_iter().zip(needed) {
            agree(
                &format!("{name} {what}"),
                &[value.unwrap()],
                &[certified],
                needed - 0.01,
            );
        }
    }
}
