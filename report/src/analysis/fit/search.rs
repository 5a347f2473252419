//! Starts for the rates of exponentials, found by looking everywhere.

use super::separable::{Basis, coefficients};

/// Points looked at in the search; more add time and no better start.
const POINTS: usize = 200;

/// Best combinations handed on.
const KEPT: usize = 3;

/// Rates, times the length of the record: from a decay that is hardly begun to
/// one that is over within a thousandth.
pub(super) fn rates() -> Vec<f64> {
    (0..=20)
        .map(|i| 10f64.powf(-2.0 + 0.25 * f64::from(i)))
        .collect()
}

/// Every choice of `terms` different rates, ascending.
pub(super) fn combinations(rates: &[f64], terms: usize) -> Vec<Vec<f64>> {
    if terms == 0 {
        return vec![vec![]];
    }
    let mut out = Vec::new();
    for (i, &first) in rates.iter().enumerate() {
        for mut rest in combinations(&rates[i + 1..], terms - 1) {
            rest.insert(0, first);
            out.push(rest);
        }
    }
    out
}

/// The candidates that leave the smallest sums of squares.
pub(super) fn best<B: Basis>(
    basis_of: impl Fn(&[f64]) -> B,
    s: &[f64],
    y: &[f64],
    roots: &[f64],
    candidates: Vec<Vec<f64>>,
) -> Vec<Vec<f64>> {
    let every = s.len().div_ceil(POINTS);
    let thin = |v: &[f64]| v.iter().copied().step_by(every).collect::<Vec<_>>();
    let (basis, y, roots) = (basis_of(&thin(s)), thin(y), thin(roots));
    let mut scored: Vec<(f64, Vec<f64>)> = candidates
        .into_iter()
        .filter_map(|c| Some((coefficients(&basis, &y, &roots, &c)?.1, c)))
        .collect();
    scored.sort_by(|a, b| a.0.total_cmp(&b.0));
    scored.into_iter().take(KEPT).map(|(_, c)| c).collect()
}
