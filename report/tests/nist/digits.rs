//! Agreement with a certified number, in digits.

/// Number of significant digits in which `x` agrees with `certified`,
/// −log₁₀ of the relative difference, 11 at most (that is what is certified).
pub(crate) fn digits(x: f64, certified: f64) -> f64 {
    let off = (x - certified).abs() / certified.abs();
    if off.is_nan() {
        return 0.0;
    }
    (-off.log10()).min(11.0)
}

/// Smallest agreement over pairs of numbers.
pub(crate) fn least_digits(x: &[f64], certified: &[f64]) -> f64 {
    assert_eq!(x.len(), certified.len());
    let all = x.iter().zip(certified).map(|(x, c)| digits(*x, *c));
    all.fold(f64::INFINITY, f64::min)
}

/// Demand agreement, and print it.
#[track_caller]
pub(crate) fn agree(what: &str, x: &[f64], certified: &[f64], needed: f64) {
    let found = least_digits(x, certified);
    println!("{what}: {found:.1} digits");
    assert!(
        found >= needed,
        "{what}: {found:.1} digits, {x:?} is not {certified:?}"
    );
}

#[test]
fn digits_count_as_they_should() {
    assert!((digits(1.0001, 1.0) - 4.0).abs() < 0.01);
    assert!((digits(-2.0, -2.0) - 11.0).abs() < 1e-12);
    assert!(digits(f64::NAN, 1.0).abs() < 1e-12);
    assert!(least_digits(&[1.0, 2.1], &[1.0, 2.0]) < 1.4);
}
