//! Pooling estimates that differ by more than their own errors.

use super::{Interval, student_t_quantile};

/// How the variance between the estimates is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// DerSimonian–Laird: one step, from the weighted sum of squares.
    DerSimonianLaird,
    /// Paule–Mandel: solves for the variance at which the weighted sum of
    /// squares is what chance gives. Better when the estimates differ a lot.
    PauleMandel,
}

/// What to do when few estimates agree better than chance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SmallSample {
    /// The interval of Hartung and Knapp as it is.
    Plain,
    /// Never below the scale that the errors themselves give: two or three
    /// values that happen to agree then do not look certain.
    NotBelowErrors,
}

/// A mean over estimates with their own variances and a variance between them.
///
/// **Units**: `mean`, `between_sd` and `wald_standard_error` those of the
/// estimates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PooledMean {
    /// Number of estimates.
    pub estimates: usize,
    /// Random-effects mean.
    pub mean: f64,
    /// Standard error 1/√Σw of the mean, variances taken as known.
    pub wald_standard_error: f64,
    /// Standard deviation τ between the true values.
    pub between_sd: f64,
    /// Cochran's Q, the weighted sum of squares about the fixed-effect mean.
    pub q: f64,
    /// Share of the spread that is not chance, (Q − df)/Q, 0 to 1.
    pub i_squared: f64,
    /// Hartung–Knapp factor on the variance of the mean.
    pub scale: f64,
}

impl PooledMean {
    /// Hartung–Knapp interval of the mean: Student t with k − 1 degrees of
    /// freedom.
    #[must_use]
    pub fn interval(&self, level: f64, small: SmallSample) -> Interval {
        Interval::around(
            self.mean,
            self.t(level, 1) * self.standard_error(small),
            level,
        )
    }

    /// Standard error of the mean with the Hartung–Knapp factor.
    #[must_use]
    pub fn standard_error(&self, small: SmallSample) -> f64 {
        let scale = match small {
            SmallSample::Plain => self.scale,
            SmallSample::NotBelowErrors => self.scale.max(1.0),
        };
        self.wald_standard_error * scale.sqrt()
    }

    /// Interval in which the true value of the next estimate lies: Student t
    /// with k − 2 degrees of freedom. Open for two estimates.
    #[must_use]
    pub fn prediction(&self, level: f64, small: SmallSample) -> Interval {
        let spread = self.between_sd.hypot(self.standard_error(small));
        Interval::around(self.mean, self.t(level, 2) * spread, level)
    }

    fn t(&self, level: f64, lost: usize) -> f64 {
        let df = self.estimates.saturating_sub(lost) as f64;
        student_t_quantile(f64::midpoint(1.0, level), df)
    }
}

/// Pool estimates with known variances; `None` for fewer than two, unequal
/// lengths, a value that is not finite or a variance that is not positive.
///
/// **Source**: DerSimonian & Laird, Controlled Clinical Trials 7 (1986) 177;
/// Paule & Mandel, J. Res. NBS 87 (1982) 377; Hartung & Knapp, Statist. Med.
/// 20 (2001) 3875; the lower limit of the scale after Röver, Knapp, Friede,
/// BMC Med. Res. Methodol. 15 (2015) 99; prediction interval after Higgins,
/// Thompson, Spiegelhalter, J. R. Statist. Soc. A 172 (2009) 137 (all cited
/// from memory).
///
/// ```
/// use seep_report::analysis::stats::{Between, SmallSample, random_effects};
/// let kpa_per_hour = [1.2, 0.9, 1.4];
/// let pooled =
///     random_effects(&kpa_per_hour, &[0.01, 0.02, 0.01], Between::PauleMandel).unwrap();
/// let interval = pooled.interval(0.95, SmallSample::NotBelowErrors);
/// assert!(interval.contains(pooled.mean) && pooled.between_sd > 0.0);
/// ```
#[must_use]
pub fn random_effects(values: &[f64], variances: &[f64], between: Between) -> Option<PooledMean> {
    let usable =
        values.iter().all(|v| v.is_finite()) && variances.iter().all(|v| v.is_finite() && *v > 0.0);
    if values.len() < 2 || values.len() != variances.len() || !usable {
        return None;
    }
    let df = values.len() as f64 - 1.0;
    let fixed = Weighted::at(values, variances, 0.0);
    let tau2 = match between {
        Between::DerSimonianLaird => {
            let c = fixed.total - fixed.total_of_squares / fixed.total;
            ((fixed.q - df) / c).max(0.0)
        }
        Between::PauleMandel => paule_mandel(values, variances, df),
    };
    let random = Weighted::at(values, variances, tau2);
    Some(PooledMean {
        estimates: values.len(),
        mean: random.mean,
        wald_standard_error: random.total.sqrt().recip(),
        between_sd: tau2.sqrt(),
        q: fixed.q,
        i_squared: if fixed.q > df {
            (fixed.q - df) / fixed.q
        } else {
            0.0
        },
        scale: random.q / df,
    })
}

/// Weighted sums with weights 1/(variance + tau²).
struct Weighted {
    total: f64,
    total_of_squares: f64,
    mean: f64,
    q: f64,
    /// Slope of `q` against tau².
    q_slope: f64,
}

impl Weighted {
    fn at(values: &[f64], variances: &[f64], tau2: f64) -> Self {
        let weights: Vec<f64> = variances.iter().map(|v| 1.0 / (v + tau2)).collect();
        let total: f64 = weights.iter().sum();
        let mean = weights.iter().zip(values).map(|(w, x)| w * x).sum::<f64>() / total;
        let sum = |power: i32| {
            let terms = weights.iter().zip(values);
            terms
                .map(|(w, x)| w.powi(power) * (x - mean).powi(2))
                .sum::<f64>()
        };
        Weighted {
            total,
            total_of_squares: weights.iter().map(|w| w * w).sum(),
            mean,
            q: sum(1),
            q_slope: -sum(2),
        }
    }
}

/// Solve Q(τ²) = df for τ² ≥ 0 by Newton steps from 0: Q falls and is convex,
/// so the steps come up from below and never pass the solution.
fn paule_mandel(values: &[f64], variances: &[f64], df: f64) -> f64 {
    let mut tau2 = 0.0;
    for _ in 0..200 {
        let now = Weighted::at(values, variances, tau2);
        let step = (df - now.q) / now.q_slope;
        // Also ends on NaN (all values equal: Q and its slope are 0).
        if !(step > tau2 * 1e-14 && step > 0.0) {
            break;
        }
        tau2 += step;
    }
    tau2
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, tolerance: f64) {
        assert!((a - b).abs() <= tolerance, "{a} is not {b}");
    }

    /// Thirteen trials of a vaccine against tuberculosis, cases and others in
    /// the vaccinated and the control group. Source: Colditz et al., JAMA 271
    /// (1994) 698, as carried by the R package metafor (`dat.bcg`).
    const TRIALS: [[f64; 4]; 13] = [
        [4.0, 119.0, 11.0, 128.0],
        [6.0, 300.0, 29.0, 274.0],
        [3.0, 228.0, 11.0, 209.0],
        [62.0, 13536.0, 248.0, 12619.0],
        [33.0, 5036.0, 47.0, 5761.0],
        [180.0, 1361.0, 372.0, 1079.0],
        [8.0, 2537.0, 10.0, 619.0],
        [505.0, 87886.0, 499.0, 87892.0],
        [29.0, 7470.0, 45.0, 7232.0],
        [17.0, 1699.0, 65.0, 1600.0],
        [186.0, 50448.0, 141.0, 27197.0],
        [5.0, 2493.0, 3.0, 2338.0],
        [27.0, 16886.0, 29.0, 17825.0],
    ];

    /// Log risk ratios and their variances.
    fn log_ratios() -> (Vec<f64>, Vec<f64>) {
        TRIALS
            .iter()
            .map(|[a, b, c, d]| {
                let value = (a / (a + b)).ln() - (c / (c + d)).ln();
                (value, 1.0 / a - 1.0 / (a + b) + 1.0 / c - 1.0 / (c + d))
            })
            .unzip()
    }

    #[test]
    fn trials_pooled_by_dersimonian_and_laird() {
        // Source: tests of the R package metafor, `rma(yi, vi, data=dat,
        // method="DL")` against Stata metan: Q 152.2330, mean -0.7141, normal
        // interval -1.0644 to -0.3638; tau² 0.3088 and I² 92.12 % are from
        // memory of its documentation.
        let (y, v) = log_ratios();
        let p = random_effects(&y, &v, Between::DerSimonianLaird).unwrap();
        close(p.q, 152.2330, 5e-5);
        close(p.between_sd.powi(2), 0.3088, 5e-5);
        close(p.mean, -0.7141, 5e-5);
        close(p.mean - 1.959_964 * p.wald_standard_error, -1.0644, 5e-5);
        close(p.mean + 1.959_964 * p.wald_standard_error, -0.3638, 5e-5);
        close(p.i_squared, 0.9212, 5e-5);
    }

    #[test]
    fn paule_and_mandel_bring_q_to_its_expectation() {
        // tau² 0.3181: metafor, method="PM" (from memory).
        let (y, v) = log_ratios();
        let p = random_effects(&y, &v, Between::PauleMandel).unwrap();
        close(p.between_sd.powi(2), 0.3181, 5e-5);
        // At that tau² the Hartung–Knapp factor is 1 by construction.
        close(p.scale, 1.0, 1e-10);
    }

    #[test]
    fn equal_variances_give_the_plain_t_interval() {
        // With equal variances, and tau² > 0, Hartung–Knapp is the textbook
        // interval of a mean: mean ± t·s/√n.
        let y = [1.0, 4.0, 2.0, 9.0];
        for between in [Between::DerSimonianLaird, Between::PauleMandel] {
            let p = random_effects(&y, &[0.5; 4], between).unwrap();
            close(p.mean, 4.0, 1e-12);
            let s = crate::analysis::stats::sd(&y).unwrap();
            let i = p.interval(0.95, SmallSample::Plain);
            close(i.high - 4.0, 3.182_446_305 * s / 2.0, 1e-8);
            close(p.between_sd.powi(2), s * s - 0.5, 1e-9);
        }
    }

    #[test]
    fn agreeing_values_do_not_look_more_certain_than_their_errors() {
        let p = random_effects(&[5.0, 5.0], &[1.0, 1.0], Between::PauleMandel).unwrap();
        close(p.between_sd, 0.0, 1e-12);
        close(p.interval(0.95, SmallSample::Plain).width(), 0.0, 1e-12);
        let honest = p.interval(0.95, SmallSample::NotBelowErrors);
        close(honest.high, 5.0 + 12.706_205 / 2.0f64.sqrt(), 1e-5);
        assert_eq!(p.prediction(0.95, SmallSample::Plain).high, f64::INFINITY);
    }

    #[test]
    fn one_value_or_a_bad_variance_is_none() {
        let dl = Between::DerSimonianLaird;
        assert!(random_effects(&[1.0], &[1.0], dl).is_none());
        assert!(random_effects(&[1.0, 2.0], &[1.0, 0.0], dl).is_none());
        assert!(random_effects(&[1.0, f64::NAN], &[1.0, 1.0], dl).is_none());
    }
}
