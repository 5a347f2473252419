//! One exponential towards a free asymptote.

use nalgebra::DMatrix;

use super::axis::Axis;
use super::check::{check, root_weights};
use super::separable::{Basis, separable};
use super::{Curve, Fit, NoFit, search};

/// y = v + r·(1 − exp(−k·(t − t₀)))/k at given times, t₀ the earliest: the
/// value and rate at the start and the rate constant at which the rate fades.
///
/// It is the same curve as a·exp(−k·t) + c, and stays well-behaved where that
/// one does not: with k near 0 it is a straight line, while a and c run away
/// to infinity.
#[derive(Debug, Clone, PartialEq)]
pub struct DecayFromStart {
    /// Times, in the unit of 1/k.
    pub t: Vec<f64>,
}

impl Curve for DecayFromStart {
    fn predict(&self, parameters: &[f64], out: &mut [f64]) {
        let start = self.t.iter().copied().fold(f64::INFINITY, f64::min);
        for (t, o) in self.t.iter().zip(out) {
            *o = parameters[0] + parameters[1] * fading(parameters[2], t - start);
        }
    }
}

/// A fit of one exponential with a free asymptote.
#[derive(Debug, Clone, PartialEq)]
pub struct OffsetDecay {
    /// Values: v, value at the first time; r, rate of change there; k.
    pub from_start: Fit,
    /// The first time.
    start: f64,
}

impl OffsetDecay {
    /// The same fit with the values a, k, c of y = a·exp(−k·t) + c. `None`
    /// when k is so small that a and c are no numbers.
    #[must_use]
    pub fn curve(&self) -> Option<Fit> {
        let [v, r, k] = self.from_start.values[..] else {
            return None;
        };
        let growth = (k * self.start).exp();
        let a = -r / k * growth;
        #[rustfmt::skip]
        let gradient = DMatrix::from_row_slice(3, 3, &[
            0.0, -growth / k, a * (self.start - 1.0 / k),
            0.0, 0.0, 1.0,
            1.0, 1.0 / k, -r / (k * k),
        ]);
        let fit = self
            .from_start
            .transformed(vec![a, k, v + r / k], &gradient);
        let all = fit.values.iter().chain(fit.covariance.iter());
        all.copied().all(f64::is_finite).then_some(fit)
    }
}

/// Fit y = a·exp(−k·t) + c with all three free. No start values are needed; k
/// may come out below zero.
///
/// **Units**: v, a and c those of y; r in y per t; k in 1/(unit of t).
///
/// # Errors
/// As [`nonlinear`](super::nonlinear()).
///
/// ```
/// use seep_report::analysis::fit::offset_decay;
/// // Gauge pressure of a leak that is exponential in absolute pressure.
/// let hours = [0.0, 2.0, 4.0, 8.0, 12.0];
/// let kpa_gauge = [600.0, 472.87, 368.79, 213.80, 109.91];
/// let fit = offset_decay(&hours, &kpa_gauge, None)?.curve().expect("a curved record");
/// assert!((fit.values[1] - 0.1).abs() < 1e-4);
/// assert!((fit.values[2] + 101.3).abs() < 0.2);
/// # Ok::<(), seep_report::analysis::fit::NoFit>(())
/// ```
pub fn offset_decay(t: &[f64], y: &[f64], weights: Option<&[f64]>) -> Result<OffsetDecay, NoFit> {
    check(y, weights, t.len(), 3)?;
    let axis = Axis::of(t)?;
    let rates = search::rates();
    let rising = rates.iter().filter(|r| **r <= 10.0).map(|r| vec![-r]);
    let candidates = rates.iter().map(|r| vec![*r]).chain(rising).collect();
    let basis_of = |s: &[f64]| Fading { s: s.to_vec() };
    let roots = root_weights(weights, y.len());
    let starts = search::best(basis_of, &axis.s, y, &roots, candidates);
    let scaled = separable(&basis_of(&axis.s), y, weights, &starts)?;
    let per_span = 1.0 / axis.span;
    let units = DMatrix::from_diagonal(&[1.0, per_span, per_span].to_vec().into());
    let values = (0..3).map(|j| scaled.values[j] * units[(j, j)]).collect();
    Ok(OffsetDecay {
        from_start: scaled.transformed(values, &units),
        start: axis.start,
    })
}

/// (1 − exp(−k·t))/k, which is t for k = 0.
fn fading(k: f64, t: f64) -> f64 {
    if (k * t).abs() < 1e-12 {
        t
    } else {
        -(-k * t).exp_m1() / k
    }
}

/// Derivative of [`fading`] against k: (t·exp(−k·t) − fading)/k, by its series
/// where the difference would cancel.
fn fading_slope(k: f64, t: f64) -> f64 {
    let x = k * t;
    if x.abs() < 1e-3 {
        return -t * t * (0.5 - x / 3.0 + x * x / 8.0 - x * x * x / 30.0);
    }
    (t * (-x).exp() - fading(k, t)) / k
}

/// 1 and the fading time.
struct Fading {
    s: Vec<f64>,
}

impl Basis for Fading {
    fn functions(&self, shapes: &[f64]) -> DMatrix<f64> {
        DMatrix::from_fn(self.s.len(), 2, |i, j| {
            if j == 0 {
                1.0
            } else {
                fading(shapes[0], self.s[i])
            }
        })
    }

    fn derivatives(&self, shapes: &[f64], _: usize) -> DMatrix<f64> {
        DMatrix::from_fn(self.s.len(), 2, |i, j| {
            if j == 0 {
                0.0
            } else {
                fading_slope(shapes[0], self.s[i])
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn series_and_formula_meet() {
        for k in [0.999e-3, 1.001e-3, -0.999e-3, -1.001e-3] {
            let difference = (fading(k + 1e-6, 1.0) - fading(k - 1e-6, 1.0)) / 2e-6;
            assert!((fading_slope(k, 1.0) - difference).abs() < 1e-9, "{k}");
        }
        assert!((fading_slope(0.0, 3.0) + 4.5).abs() < 1e-12);
        assert!((fading(0.0, 3.0) - 3.0).abs() < 1e-12);
        assert!((fading(2.0, 3.0) - (1.0 - (-6.0_f64).exp()) / 2.0).abs() < 1e-15);
    }

    #[test]
    fn gauge_pressure_of_a_choked_leak_is_found_exactly() {
        // p₀ 701 325 Pa absolute, τ 36 000 s, outside 101 325 Pa, 12 h at 600 s:
        // the model is exact, so the three values are.
        let t: Vec<f64> = (0..=72).map(|i| 600.0 * f64::from(i)).collect();
        let y: Vec<f64> = t
            .iter()
            .map(|t| 701_325.0 * (-t / 36_000.0).exp() - 101_325.0)
            .collect();
        let fit = offset_decay(&t, &y, None).unwrap();
        let curve = fit.curve().unwrap();
        assert!((curve.values[0] / 701_325.0 - 1.0).abs() < 1e-9);
        assert!((curve.values[1] * 36_000.0 - 1.0).abs() < 1e-9);
        assert!((curve.values[2] / -101_325.0 - 1.0).abs() < 1e-9);
        // A straight line through ln(gauge) is 28 % wrong on the same data.
        let logs: Vec<f64> = y.iter().map(|y| y.ln()).collect();
        let wrong = super::super::line(&t, &logs, None).unwrap().fit;
        assert!((-1.0 / wrong.values[1] - 25_876.58).abs() < 0.01);
    }

    #[test]
    fn a_straight_record_has_a_rate_though_it_has_no_asymptote() {
        // Invented: −0.5 per hour with a small wave that no exponential fits.
        let t: Vec<f64> = (0..40).map(|i| 0.25 * f64::from(i)).collect();
        let y: Vec<f64> = t
            .iter()
            .enumerate()
            .map(|(i, t)| 800.0 - 0.5 * t + 0.02 * f64::from(i as u32 * 7 % 5) - 0.04)
            .collect();
        let fit = offset_decay(&t, &y, None).unwrap().from_start;
        assert!(fit.interval(1, 0.95).contains(-0.5));
        assert!(fit.standard_errors[1] < 0.02);
        assert!(fit.interval(2, 0.95).contains(0.0));
    }

    #[test]
    fn times_far_from_zero_cost_no_digits_at_the_start() {
        let t: Vec<f64> = (0..50).map(|i| 1.7e9 + 600.0 * f64::from(i)).collect();
        let y: Vec<f64> = (0..50)
            .map(|i| 300.0 + 400.0 * (-f64::from(i) / 20.0).exp())
            .collect();
        let fit = offset_decay(&t, &y, None).unwrap();
        assert!((fit.from_start.values[2] * 12_000.0 - 1.0).abs() < 1e-8);
        assert!((fit.from_start.values[0] - 700.0).abs() < 1e-6);
        // a, the value at t = 0, half a century earlier, is no number.
        assert!(fit.curve().is_none());
    }

    #[test]
    fn no_spread_in_time_is_no_fit() {
        let why = offset_decay(&[5.0; 6], &[1.0, 2.0, 3.0, 2.0, 1.0, 2.0], None).unwrap_err();
        assert!(matches!(why, NoFit::NotIdentifiable { .. }));
        let why = offset_decay(&[0.0, f64::NAN, 1.0, 2.0], &[1.0; 4], None).unwrap_err();
        assert_eq!(why, NoFit::NotFinite { point: 1 });
    }
}
