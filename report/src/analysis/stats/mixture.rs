//! Does a sample come from one normal population or from two?

use super::{mean, quantile, sd as standard_deviation};
use std::f64::consts::TAU;

/// Rounds after which the iteration stops in any case.
const MOST_ROUNDS: usize = 5000;

/// Gain of log-likelihood below which it stops.
const SMALLEST_GAIN: f64 = 1e-10;

/// A standard deviation is kept above this share of the sample's, or one value,
/// or a few equal ones, would take a part for themselves with likelihood without
/// bound: at a thousandth, one normal population of six values is called two in
/// one case of seven.
const NARROWEST: f64 = 0.05;

/// One normal part of a mixture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalPart {
    /// Share of the sample.
    pub share: f64,
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// Two normal parts, the lower mean first, against one.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixture {
    /// The two parts.
    pub parts: [NormalPart; 2],
    /// Log-likelihood of the two parts.
    pub log_likelihood: f64,
    /// Bayesian information criterion of one normal, `-2·lnL + 2·ln n`.
    pub bic_one: f64,
    /// The same of two, `-2·lnL + 5·ln n`. The smaller one is preferred; a
    /// difference above 10 is strong (Kass and Raftery 1995).
    pub bic_two: f64,
    /// Probability of each value to belong to the upper part.
    pub upper_probability: Vec<f64>,
    /// False when the iteration ran out of rounds.
    pub converged: bool,
}

impl Mixture {
    /// True when two parts are preferred by more than a margin of BIC.
    ///
    /// How often one normal population is called two, simulated, 6 to 100
    /// values: with `error_sd` at a third of its spread below 1 % at a margin
    /// of 6 and below 0.3 % at 10; with `error_sd` unknown up to 8 % and 2 %,
    /// and up to 19 % and 11 % when the values are rounded to half their spread.
    #[must_use]
    pub fn prefers_two(&self, margin: f64) -> bool {
        self.bic_one - self.bic_two > margin
    }
}

/// Fit two normal parts by expectation-maximisation from three starts, keeping
/// the likeliest. `None` below six values, without spread, or with a value that
/// is not finite.
///
/// `error_sd` is what is known of the error of one value (its standard error,
/// its resolution/√12), same unit, 0 when nothing is known: no part is made
/// narrower. Give it. Values rounded to a few steps bunch, and without it a
/// bunch is taken for a population.
///
/// **Source**: Dempster, Laird and Rubin 1977; Schwarz 1978 for BIC.
///
/// ```
/// use seep_report::analysis::stats::two_normals;
/// let rates = [0.1, -0.1, 0.0, 0.2, -0.2, 9.8, 10.1, 10.0, 10.2, 9.9];
/// let mixture = two_normals(&rates, 0.1).unwrap();
/// assert!(mixture.prefers_two(10.0));
/// assert!((mixture.parts[1].mean - 10.0).abs() < 0.01);
/// ```
#[must_use]
pub fn two_normals(values: &[f64], error_sd: f64) -> Option<Mixture> {
    let n = values.len() as f64;
    let sd = standard_deviation(values)?;
    let narrowest = error_sd.max(NARROWEST * sd);
    if values.len() < 6 || !sd.is_finite() || sd <= 0.0 {
        return None;
    }
    let mut best: Option<Climb> = None;
    for (low, high) in [(0.25, 0.75), (0.1, 0.9), (0.5, 0.95)] {
        let part = |p| {
            quantile(values, p).map(|mean| NormalPart {
                share: 0.5,
                mean,
                sd: 0.5 * sd,
            })
        };
        let climb = climb(values, [part(low)?, part(high)?], narrowest);
        if best
            .as_ref()
            .is_none_or(|b| climb.log_likelihood > b.log_likelihood)
        {
            best = Some(climb);
        }
    }
    let mut best = best?;
    if best.parts[0].mean > best.parts[1].mean {
        best.parts.swap(0, 1);
        best.upper.iter_mut().for_each(|p| *p = 1.0 - *p);
    }
    let one = NormalPart {
        share: 1.0,
        mean: mean(values)?,
        sd: sd * ((n - 1.0) / n).sqrt(),
    };
    let one_log: f64 = values.iter().map(|v| one.log_density(*v)).sum();
    Some(Mixture {
        parts: best.parts,
        log_likelihood: best.log_likelihood,
        bic_one: -2.0 * one_log + 2.0 * n.ln(),
        bic_two: -2.0 * best.log_likelihood + 5.0 * n.ln(),
        upper_probability: best.upper,
        converged: best.converged,
    })
}

impl NormalPart {
    /// Logarithm of share times density; does not underflow far out.
    fn log_density(&self, value: f64) -> f64 {
        let z = (value - self.mean) / self.sd;
        -0.5 * z * z + (self.share / (self.sd * TAU.sqrt())).ln()
    }
}

struct Climb {
    parts: [NormalPart; 2],
    upper: Vec<f64>,
    log_likelihood: f64,
    converged: bool,
}

fn climb(values: &[f64], start: [NormalPart; 2], narrowest: f64) -> Climb {
    let mut state = Climb {
        parts: start,
        upper: vec![0.0; values.len()],
        log_likelihood: f64::NEG_INFINITY,
        converged: false,
    };
    for _ in 0..MOST_ROUNDS {
        let before = state.log_likelihood;
        state.log_likelihood = expect(values, &state.parts, &mut state.upper);
        if state.log_likelihood - before < SMALLEST_GAIN {
            state.converged = true;
            break;
        }
        state.parts = maximise(values, &state.upper, narrowest);
    }
    state
}

/// Membership of the second part; returns the log-likelihood.
fn expect(values: &[f64], parts: &[NormalPart; 2], upper: &mut [f64]) -> f64 {
    let mut log_likelihood = 0.0;
    for (v, p) in values.iter().zip(upper) {
        let (a, b) = (parts[0].log_density(*v), parts[1].log_density(*v));
        *p = 1.0 / (1.0 + (a - b).exp());
        let largest = a.max(b);
        log_likelihood += largest + (-(a - b).abs()).exp().ln_1p();
    }
    log_likelihood
}

fn maximise(values: &[f64], upper: &[f64], narrowest: f64) -> [NormalPart; 2] {
    let part = |weight: &dyn Fn(f64) -> f64| {
        let total: f64 = upper.iter().map(|p| weight(*p)).sum::<f64>().max(1e-12);
        let sum = |f: &dyn Fn(f64) -> f64| -> f64 {
            values
                .iter()
                .zip(upper)
                .map(|(v, p)| weight(*p) * f(*v))
                .sum()
        };
        let mean = sum(&|v| v) / total;
        let square = sum(&|v| (v - mean) * (v - mean)) / total;
        NormalPart {
            share: total / values.len() as f64,
            mean,
            sd: square.sqrt().max(narrowest),
        }
    };
    [part(&|p| 1.0 - p), part(&|p| p)]
}
