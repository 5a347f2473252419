//! The law of a leak, and everything else that moves the amounts, in one
//! regression.

use super::super::regression::{Regression, Term, regress_series};
use super::super::segment::Rest;
use super::{LeakLaw, Prepared, nuisance};
use seep_common::physics::leak::LeakShape;

/// Critical pressure ratio assumed for a hole; above twice the outside
/// pressure it does not matter.
const HOLE_CRITICAL_RATIO: f64 = 0.5;

/// Twice the log-likelihood by which one law must be better to be told from
/// the other.
const LAW_GAIN: f64 = 6.0;

/// A settling term is worth a word from this many standard errors on.
const SETTLING_SEEN: f64 = 3.0;

/// Place of the conductance among the coefficients.
pub(super) const CONDUCTANCE: usize = 1;

/// The model that was chosen.
pub(super) struct Model {
    pub(super) regression: Regression,
    pub(super) law: LeakLaw,
    /// True when the other law fits as well.
    pub(super) undecided: bool,
    /// Driving term of the law at each reading, kPa.
    pub(super) shape: Vec<f64>,
    /// What one standard deviation of the temperature's gain does to the amount
    /// at each reading, ANR L; empty without a temperature.
    pub(super) gain_anr_l: Vec<f64>,
    /// What the conductance is off by one standard deviation of how air settles
    /// after such a move, every time alike.
    pub(super) settling_off: f64,
    /// Time constant of the largest settling that was seen, s.
    pub(super) settling_s: Option<f64>,
}

/// Driving term of a law at each reading, kPa.
pub(super) fn shape(data: &Prepared, law: LeakLaw, outside_kpa_abs: f64) -> Vec<f64> {
    let shape = match law {
        LeakLaw::Orifice => LeakShape::Orifice {
            critical_ratio: HOLE_CRITICAL_RATIO,
        },
        LeakLaw::Laminar => LeakShape::LaminarSeep,
    };
    data.kpa_abs
        .iter()
        .zip(&data.kelvin)
        .map(|(&p, &t)| shape.kpa(p, outside_kpa_abs, t))
        .collect()
}

/// Fit both laws; the hole unless the seep is clearly better.
pub(super) fn choose(
    rest: &Rest,
    data: &Prepared,
    outside_kpa_abs: f64,
    weights: &[f64],
    floor: f64,
) -> Option<Model> {
    let settling = nuisance::settling(rest, data);
    let settling_from = CONDUCTANCE + 1;
    let mut common: Vec<Term> = settling.iter().map(|s| s.1.clone()).collect();
    let swing = nuisance::gain(data);
    let gain_anr_l = swing.as_ref().map_or_else(Vec::new, Term::one_sd);
    common.extend(swing);
    common.extend(nuisance::lags(data));
    common.extend(nuisance::wander(rest, data));
    let solve = |law: LeakLaw| {
        let shape = shape(data, law, outside_kpa_abs);
        let mut terms = vec![
            Term::free(vec![1.0; data.t_s.len()]),
            Term::free(integral(&data.t_s, &shape).iter().map(|x| -x).collect()),
        ];
        terms.extend(common.iter().cloned());
        let families = &nuisance::FAMILIES;
        regress_series(&terms, &data.amount_anr_l, weights, floor, families).map(|r| (r, shape))
    };
    let hole = solve(LeakLaw::Orifice)?;
    let seep = solve(LeakLaw::Laminar);
    let gain = seep.as_ref().map_or(0.0, |s| gain(&s.0, &hole.0));
    let ((regression, shape), law) = match seep {
        Some(seep) if gain > LAW_GAIN => (seep, LeakLaw::Laminar),
        _ => (hole, LeakLaw::Orifice),
    };
    let settling_s = settling
        .iter()
        .enumerate()
        .map(|(i, s)| (s.0, settling_from + i))
        .filter(|(_, j)| {
            regression.values[*j].abs() > SETTLING_SEEN * regression.standard_errors[*j]
        })
        .max_by(|a, b| {
            let size = |j: usize| regression.values[j].abs();
            size(a.1).total_cmp(&size(b.1))
        })
        .map(|(tau_s, _)| tau_s);
    let settling_off = (0..settling.len())
        .map(|i| regression.off_by_prior(CONDUCTANCE, settling_from + i))
        .sum::<f64>();
    Some(Model {
        regression,
        law,
        undecided: gain.abs() <= LAW_GAIN,
        shape,
        gain_anr_l,
        settling_off: nuisance::settles_alike(rest) * settling_off,
        settling_s,
    })
}

/// Twice the log-likelihood by which one model is better than another, by the
/// independent readings of the better one.
fn gain(one: &Regression, other: &Regression) -> f64 {
    let worth = if one.squares < other.squares {
        one.worth
    } else {
        other.worth
    };
    worth * (other.squares / one.squares).ln()
}

/// ∫shape dt by trapezoids, from the first reading.
fn integral(t_s: &[f64], shape: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let mut out = vec![0.0];
    for i in 1..t_s.len() {
        sum += (t_s[i] - t_s[i - 1]) * (shape[i] + shape[i - 1]) / 2.0;
        out.push(sum);
    }
    out
}
