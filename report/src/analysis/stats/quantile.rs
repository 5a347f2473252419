//! Quantiles and tail probabilities of the normal and Student t distributions.
//!
//! Arguments outside their domain give `NaN`, never a panic.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// Above this many degrees of freedom Student's t is the normal to within
/// 1e-6 of its quantile.
const T_IS_NORMAL: f64 = 1e6;

fn is_probability(p: f64) -> bool {
    p > 0.0 && p < 1.0
}

/// Quantile of the standard normal distribution: z with Φ(z) = p, 0 < p < 1.
///
/// ```
/// use seep_report::analysis::stats::normal_quantile;
/// assert!((normal_quantile(0.975) - 1.959_964).abs() < 1e-6);
/// ```
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    if is_probability(p) {
        Normal::standard().inverse_cdf(p)
    } else {
        f64::NAN
    }
}

/// Probability that a standard normal lies at least as far from 0 as `z`.
#[must_use]
pub fn normal_two_sided_p(z: f64) -> f64 {
    if z.is_nan() {
        return f64::NAN;
    }
    (2.0 * Normal::standard().cdf(-z.abs())).min(1.0)
}

/// Quantile of Student's t with `df` degrees of freedom (not necessarily
/// whole; infinity gives the normal), 0 < p < 1.
///
/// ```
/// use seep_report::analysis::stats::student_t_quantile;
/// assert!((student_t_quantile(0.975, 3.0) - 3.182_446).abs() < 1e-6);
/// ```
#[must_use]
pub fn student_t_quantile(p: f64, df: f64) -> f64 {
    if df >= T_IS_NORMAL {
        return normal_quantile(p);
    }
    match StudentsT::new(0.0, 1.0, df) {
        Ok(t) if is_probability(p) => t.inverse_cdf(p),
        _ => f64::NAN,
    }
}

/// Probability that Student's t lies at least as far from 0 as `t`.
#[must_use]
pub fn student_t_two_sided_p(t: f64, df: f64) -> f64 {
    if df >= T_IS_NORMAL {
        return normal_two_sided_p(t);
    }
    match StudentsT::new(0.0, 1.0, df) {
        Ok(d) if !t.is_nan() => (2.0 * d.cdf(-t.abs())).min(1.0),
        _ => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: usual tables of Student's t (for example NIST/SEMATECH e-Handbook
    /// 1.3.6.7.2), with three more decimals recomputed in scipy 1.17.1.
    /// df, t .95, t .975, t .995.
    const TABLE: [[f64; 4]; 10] = [
        [1.0, 6.313_752, 12.706_205, 63.656_741],
        [2.0, 2.919_986, 4.302_653, 9.924_843],
        [3.0, 2.353_363, 3.182_446, 5.840_909],
        [4.0, 2.131_847, 2.776_445, 4.604_095],
        [5.0, 2.015_048, 2.570_582, 4.032_143],
        [8.0, 1.859_548, 2.306_004, 3.355_387],
        [10.0, 1.812_461, 2.228_139, 3.169_273],
        [20.0, 1.724_718, 2.085_963, 2.845_340],
        [30.0, 1.697_261, 2.042_272, 2.749_996],
        [120.0, 1.657_651, 1.979_930, 2.617_421],
    ];

    #[test]
    fn quantiles_are_those_of_the_tables() {
        for [df, t95, t975, t995] in TABLE {
            for (p, t) in [(0.95, t95), (0.975, t975), (0.995, t995)] {
                assert!((student_t_quantile(p, df) - t).abs() < 6e-7, "t {p} {df}");
                assert!((student_t_quantile(1.0 - p, df) + t).abs() < 6e-7);
                assert!((student_t_two_sided_p(t, df) - 2.0 * (1.0 - p)).abs() < 1e-6);
            }
        }
        let z = [
            (0.95, 1.644_853_626_951_472_2),
            (0.975, 1.959_963_984_540_054),
            (0.995, 2.575_829_303_548_900_4),
        ];
        for (p, z) in z {
            assert!((normal_quantile(p) - z).abs() < 1e-12);
            assert!((normal_two_sided_p(z) - 2.0 * (1.0 - p)).abs() < 1e-9);
        }
    }

    #[test]
    fn a_very_large_df_goes_over_to_the_normal_without_a_step() {
        let below = student_t_quantile(0.975, 0.999e6);
        assert!((below - student_t_quantile(0.975, 1.001e6)).abs() < 1e-5);
        assert!((student_t_quantile(0.975, f64::INFINITY) - 1.959_964).abs() < 1e-6);
    }

    #[test]
    fn outside_the_domain_is_nan() {
        assert!(normal_quantile(0.0).is_nan());
        assert!(student_t_quantile(0.975, 0.0).is_nan());
        assert!(student_t_quantile(f64::NAN, 3.0).is_nan());
    }
}
