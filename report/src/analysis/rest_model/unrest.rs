//! Unrest of a rest: how much larger its own errors are than expected.
//!
//! Each rest's likelihood of the factor f on a grid, every column at its prior (leaks
//! broad, persistent errors at half their usual size); log-normal about the usual f
//! of its volume.

use nalgebra::{DMatrix, DVector};

use super::columns::{Columns, Target};
use super::covariance::{RestCovariance, START_VARIANCE, add_leak_shape};
use super::hypothesis::Hypothesis;
use super::input::ModelRest;
use super::linear::{Factor, add_outer};
use super::plan::Plan;

/// Factors that are tried.
pub(super) const FACTORS: [f64; 8] = [0.5, 0.7, 1.0, 1.5, 2.5, 4.0, 7.0, 12.0];
/// Spread of ln f between the rests of one volume, and of the usual one about 1.
/// **Source**: judgement.
const BETWEEN_RESTS: f64 = 0.6;
const BETWEEN_CARS: f64 = 1.0;
/// Breadth of a leak while f is sought, floors.
const LEAK_FLOORS: f64 = 300.0;

/// Log-likelihood of one rest at each of [`FACTORS`]; flat where the covariance is
/// not positive definite.
pub(super) fn likelihoods(
    columns: &Columns<'_>,
    covariance: &RestCovariance,
    c0: f64,
) -> [f64; FACTORS.len()] {
    let mut base = covariance.fixed.clone();
    add_leak_shape(&mut base, columns, c0);
    add_columns(&mut base, columns);
    base.iter_mut().for_each(|x| *x += START_VARIANCE);
    let y = DVector::from_vec(centred(columns));
    FACTORS.map(|f| {
        let mut r = base.clone();
        let parts = r.as_mut_slice().iter_mut();
        parts
            .zip(covariance.unrest.as_slice())
            .for_each(|(r, w)| *r += f * f * w);
        Factor::new(r).map_or(0.0, |factor| {
            let mut z = y.clone();
            factor.forward(&mut z);
            -0.5 * z.norm_squared() - factor.half_ln_determinant()
        })
    })
}

/// Readings minus the prior means of the persistent errors.
fn centred(columns: &Columns<'_>) -> Vec<f64> {
    let mut y = columns.y.clone();
    for (target, column) in &columns.persistent {
        if let Target::Error { mean, .. } = target
            && *mean != 0.0
        {
            y.iter_mut().zip(column).for_each(|(y, c)| *y -= mean * c);
        }
    }
    y
}

fn add_columns(base: &mut DMatrix<f64>, columns: &Columns<'_>) {
    let n = columns.len();
    let mut scaled: Vec<(f64, &[f64])> = Vec::with_capacity(columns.persistent.len() + 10);
    for (target, column) in &columns.persistent {
        let sd = match target {
            Target::Error { sd, .. } => 0.5 * sd,
            Target::Hypothesis(i) => match columns.plan.hypotheses[*i] {
                hypothesis @ Hypothesis::Leak { .. } => {
                    LEAK_FLOORS * columns.plan.floor(hypothesis)
                }
                _ => continue,
            },
        };
        scaled.push((sd, column));
    }
    scaled.extend(columns.shared.iter().map(|(_, c)| (1.0, c.as_slice())));
    let values = scaled
        .iter()
        .flat_map(|(sd, column)| column.iter().map(move |c| sd * c));
    let z = DMatrix::from_iterator(n, scaled.len(), values);
    add_outer(base, 0, 1.0, &z);
}

/// Usual factor of one volume and the factor of each of its rests (root of the
/// posterior mean square).
pub(super) fn of_volume(likelihoods: &[[f64; FACTORS.len()]]) -> (f64, Vec<f64>) {
    let usual = (0..FACTORS.len())
        .map(|m| (usual_evidence(m, likelihoods), m))
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        .map_or(2, |best| best.1);
    let prior = prior_about(usual);
    let factors = likelihoods
        .iter()
        .map(|l| posterior_factor(l, &prior))
        .collect();
    (FACTORS[usual], factors)
}

fn usual_evidence(m: usize, likelihoods: &[[f64; FACTORS.len()]]) -> f64 {
    let prior = prior_about(m);
    let all: f64 = likelihoods
        .iter()
        .map(|l| ln_sum_exp((0..FACTORS.len()).map(|k| l[k] + prior[k])))
        .sum();
    all - 0.5 * (FACTORS[m].ln() / BETWEEN_CARS).powi(2)
}

fn prior_about(m: usize) -> [f64; FACTORS.len()] {
    let raw = FACTORS.map(|f| -0.5 * ((f.ln() - FACTORS[m].ln()) / BETWEEN_RESTS).powi(2));
    let sum = ln_sum_exp(raw.into_iter());
    raw.map(|r| r - sum)
}

fn posterior_factor(likelihoods: &[f64; FACTORS.len()], prior: &[f64; FACTORS.len()]) -> f64 {
    let joint: Vec<f64> = likelihoods.iter().zip(prior).map(|(l, p)| l + p).collect();
    let sum = ln_sum_exp(joint.iter().copied());
    let mean_square: f64 = joint
        .iter()
        .zip(FACTORS)
        .map(|(j, f)| (j - sum).exp() * f * f)
        .sum();
    mean_square.sqrt()
}

/// Rests of one volume, either those known by their two ends or all others.
fn rests_of(plan: &Plan<'_>, volume: usize, by_ends: bool) -> Vec<usize> {
    let rests = plan.car.rests.iter().enumerate();
    let of = rests.filter(|(_, r)| r.volume == volume && is_known_by_ends(plan, r) == by_ends);
    of.map(|(i, _)| i).collect()
}

/// Whether a silence is more than half of a rest whose amount of air is known. Of a
/// corner without a height the volume is not: how far that goes only the unrest of all
/// its rests tells.
fn is_known_by_ends(plan: &Plan<'_>, rest: &ModelRest) -> bool {
    let volume = &plan.car.volumes[rest.volume];
    let is_known = volume.is_tank || volume.has_height;
    is_known && rest.longest_silence_s > 0.5 * (rest.end_s - rest.start_s)
}

/// `ln Σ e^x`.
pub(super) fn ln_sum_exp(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let top = values.clone().fold(f64::NEG_INFINITY, f64::max);
    if top.is_finite() {
        top + values.map(|x| (x - top).exp()).sum::<f64>().ln()
    } else {
        top
    }
}

/// Unrest of every rest, given its likelihoods: usual factor by volume (of its rests with
/// readings throughout, where it has any), factor by rest.
///
/// Rests known by their two ends are a kind of their own. They tell next to nothing of
/// their unrest, and what short rests with people aboard tell is not true of them.
pub(super) fn of_car(
    plan: &Plan<'_>,
    likelihoods: &[[f64; FACTORS.len()]],
) -> (Vec<f64>, Vec<f64>) {
    let mut usual = vec![1.0; plan.car.volumes.len()];
    let mut factors = vec![1.0; plan.car.rests.len()];
    for v in plan.live() {
        for by_ends in [true, false] {
            let rests = rests_of(plan, v, by_ends);
            if rests.is_empty() {
                continue;
            }
            let theirs: Vec<_> = rests.iter().map(|r| likelihoods[*r]).collect();
            let (usual_here, factors_here) = of_volume(&theirs);
            usual[v] = usual_here;
            for (r, f) in rests.into_iter().zip(factors_here) {
                factors[r] = f;
            }
        }
    }
    (usual, factors)
}

#[cfg(test)]
mod tests {
    use super::{FACTORS, of_car};
    use crate::analysis::rest_model::fixtures;
    use crate::analysis::rest_model::plan::Plan;
    use crate::analysis::rest_model::settings::Settings;

    /// Invented: every other three rests are known by their two ends, the others show
    /// the largest unrest.
    #[test]
    fn nights_known_by_their_ends_do_not_take_the_unrest_of_short_rests() {
        let mut car = fixtures::car("soak-healthy");
        let mut likelihoods = Vec::new();
        let by_ends = |i: usize| (i / 3).is_multiple_of(2);
        for (i, rest) in car.rests.iter_mut().enumerate() {
            let length_s = rest.end_s - rest.start_s;
            rest.longest_silence_s = if by_ends(i) { 0.95 * length_s } else { 60.0 };
            likelihoods.push(FACTORS.map(|f| if by_ends(i) { 0.0 } else { 10.0 * f.ln() }));
        }
        let settings = Settings::default();
        let plan = Plan::new(&car, &settings).unwrap();
        let (usual, factors) = of_car(&plan, &likelihoods);
        let all = 0..factors.len();
        let (silent, others): (Vec<usize>, Vec<usize>) = all.partition(|i| by_ends(*i));
        assert!(silent.len() > 10 && others.len() > 10);
        assert!(silent.iter().all(|i| factors[*i] < 1.6), "{factors:?}");
        assert!(others.iter().all(|i| factors[*i] > 7.0), "{factors:?}");
        assert!(plan.live().all(|v| usual[v] > 6.0), "{usual:?}");
    }
}
