//! Odds of one hypothesis: half-normal slabs for a leak against a half-normal spike
//! for natural permeation.

use std::f64::consts::{LN_2, PI, SQRT_2};

use statrs::distribution::{ContinuousCDF, StudentsT};
use statrs::function::erf::erfc;

use super::unrest::ln_sum_exp;

/// ln of the Bayes factor of a leak against natural permeation.
///
/// Equation: `ln mean_j m(c; S_j) − ln m(c; s₀)`,
/// `m(c; s) ∝ v^(−1/2) e^(−c²/2v) Φ(c·s/(se·√v))`, `v = s² + se²`: the marginal
/// likelihood of an estimate c ± se when the conductance is half-normal with scale s.
///
/// **Units**: all four in the same unit of conductance. **Domain**: `se > 0`,
/// scales > 0. **Source**: closed form; tests integrate it numerically.
pub(super) fn ln_bayes_factor(c: f64, se: f64, spike: f64, slabs: &[f64]) -> f64 {
    let marginal = |s: f64| {
        let v = s * s + se * se;
        -0.5 * v.ln() - 0.5 * c * c / v + ln_normal_cdf(c * s / (se * v.sqrt()))
    };
    ln_sum_exp(slabs.iter().map(|s| marginal(*s))) - (slabs.len() as f64).ln() - marginal(spike)
}

/// ln Φ(x), also far below zero.
///
/// **Source**: below −20 the asymptotic series of Mills' ratio (Abramowitz and
/// Stegun 26.2.12).
pub(super) fn ln_normal_cdf(x: f64) -> f64 {
    if x > -20.0 {
        return erfc(-x / SQRT_2).ln() - LN_2;
    }
    let square = 1.0 / (x * x);
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 0..8 {
        term *= -f64::from(2 * k + 1) * square;
        sum += term;
    }
    -0.5 * x * x - (-x).ln() - 0.5 * (2.0 * PI).ln() + sum.ln()
}

/// Factor by which a standard error grows for few rests: `t₀.₉₇₅(df) / 1.96`.
///
/// **Domain**: degrees of freedom from 2 to 200; outside they are clamped.
pub(super) fn few_rests_factor(degrees_of_freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, degrees_of_freedom.clamp(2.0, 200.0))
        .map_or(1.0, |t| t.inverse_cdf(0.975) / 1.959_964)
}

/// ln density of Student's t with 4 degrees of freedom, unit scale.
pub(super) fn ln_t4(z: f64) -> f64 {
    -2.5 * (z * z / 4.0).ln_1p() - 0.980_829_253
}

#[cfg(test)]
mod tests {
    use super::{few_rests_factor, ln_bayes_factor, ln_normal_cdf, ln_t4};

    #[test]
    fn normal_cdf_agrees_with_tables_and_is_smooth_where_the_series_begins() {
        // SciPy 1.17.1, scipy.special.log_ndtr.
        for (x, expected) in [
            (0.0, -std::f64::consts::LN_2),
            (-1.0, -1.841_021_645_009_263_4),
            (-5.0, -15.064_998_393_988_727),
            (-19.0, -184.366_128_669_160_96),
            (-25.0, -316.639_408_008_020_27),
            (-40.0, -804.608_442_013_753_9),
        ] {
            let got = ln_normal_cdf(x);
            assert!((got - expected).abs() < 1e-9 * expected.abs(), "{x}: {got}");
        }
    }

    /// Simpson's rule over the conductance: half-normal prior times likelihood.
    fn by_integration(c: f64, se: f64, s: f64) -> f64 {
        let top = 12.0 * (s + se) + c.abs();
        let n = 400_000;
        let h = top / f64::from(n);
        let f = |x: f64| {
            let prior = (2.0 / std::f64::consts::PI).sqrt() / s * (-0.5 * (x / s).powi(2)).exp();
            prior * (-0.5 * ((c - x) / se).powi(2)).exp() / se
        };
        let inner: f64 = (1..n)
            .map(|i| f(f64::from(i) * h) * if i % 2 == 1 { 4.0 } else { 2.0 })
            .sum();
        ((f(0.0) + inner + f(top)) * h / 3.0).ln()
    }

    #[test]
    fn the_closed_form_is_the_integral() {
        for (c, se, spike, slab) in [
            (1.0, 0.3, 0.1, 2.0),
            (-0.5, 0.4, 0.1, 3.0),
            (4.0, 1.0, 0.5, 20.0),
        ] {
            let expected = by_integration(c, se, slab) - by_integration(c, se, spike);
            let got = ln_bayes_factor(c, se, spike, &[slab]);
            assert!((got - expected).abs() < 1e-9, "{got} {expected}");
        }
    }

    #[test]
    fn few_rests_grow_the_error_by_students_t() {
        // Quantiles of any table of Student's t: 4.3027, 2.2281, 1.9719 (R 4, qt).
        for (df, t) in [
            (2.0, 4.302_652_73),
            (10.0, 2.228_138_852),
            (200.0, 1.971_896_224),
        ] {
            assert!((few_rests_factor(df) * 1.959_964 - t).abs() < 1e-6);
        }
    }

    #[test]
    fn the_t_density_has_unit_mass() {
        let sum: f64 = (-400_000..=400_000)
            .map(|i| ln_t4(f64::from(i) * 0.01).exp() * 0.01)
            .sum();
        assert!((sum - 1.0).abs() < 1e-6, "{sum}");
    }
}
