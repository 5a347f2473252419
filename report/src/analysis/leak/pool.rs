//! All rests of a volume together.

use super::super::regression::{Term, regress_known};
use super::super::shared_error::shared_error;
use super::{Estimate, LeakFit};
use crate::analysis::stats::{Between, SmallSample, random_effects};

/// The leak of one volume over the whole log.
#[derive(Debug, Clone, PartialEq)]
pub struct PooledLeak {
    /// Circuit, or `tank`.
    pub place: String,
    /// Loss, ANR L/s: random-effects mean over the rests.
    pub loss_l_per_s: Estimate,
    /// Spread between rests beyond their own errors, ANR L/s.
    pub between_sd_l_per_s: f64,
    /// Fall of pressure at constant volume, kPa/h.
    pub kpa_per_h: Estimate,
    /// Fall of height at constant pressure, mm/h.
    pub mm_per_h: Option<Estimate>,
    /// Share of the air that is lost per second, 1/s.
    pub per_s: Estimate,
    /// Sonic conductance of the hole that would lose as much, L/(s·bar) ANR.
    pub equivalent_conductance: Estimate,
    /// Rests used.
    pub rests: usize,
    /// Their total length, s.
    pub seconds: f64,
    /// True when only a lower bound can be given.
    pub lower_bound: bool,
}

/// Pool the fits of one volume. `None` without any.
#[must_use]
pub fn pool(place: &str, fits: &[LeakFit]) -> Option<PooledLeak> {
    let own: Vec<&LeakFit> = fits.iter().filter(|f| f.place == place).collect();
    if own.is_empty() {
        return None;
    }
    let loss: Vec<Estimate> = own.iter().map(|f| f.without_shared_errors()).collect();
    let Mean {
        loss,
        between_sd,
        weights,
    } = beside_recurring(&own, &loss).or_else(|| with_recurring(&own, &loss))?;
    let errors = own.iter().map(|f| &f.shared_errors_l_per_s[..]);
    let loss = loss.with_known_error(shared_error(weights.iter().copied().zip(errors)));
    // The same mean in other units, with the same relative error.
    let in_unit = |pick: &dyn Fn(&LeakFit) -> Option<Estimate>| -> Option<Estimate> {
        let (mut value, mut factor, mut total) = (0.0, 0.0, 0.0);
        for (fit, weight) in own.iter().zip(&weights) {
            if let Some(e) = pick(fit) {
                value += weight * e.value;
                factor += weight * e.se / fit.loss_l_per_s.se;
                total += weight;
            }
        }
        (total > 0.0).then(|| Estimate {
            value: value / total,
            ..loss.scaled(factor / total)
        })
    };
    Some(PooledLeak {
        place: place.into(),
        loss_l_per_s: loss,
        between_sd_l_per_s: between_sd,
        kpa_per_h: in_unit(&|f| Some(f.kpa_per_h))?,
        mm_per_h: in_unit(&|f| f.mm_per_h),
        per_s: in_unit(&|f| Some(f.per_s))?,
        equivalent_conductance: in_unit(&|f| Some(f.equivalent_conductance))?,
        rests: own.len(),
        seconds: own.iter().map(|f| f.t_s.1 - f.t_s.0).sum(),
        lower_bound: own.iter().any(|f| f.lower_bound),
    })
}

/// A mean over the rests.
struct Mean {
    loss: Estimate,
    between_sd: f64,
    /// Of each rest.
    weights: Vec<f64>,
}

/// One estimate stands for itself; more are pooled with the variance between.
fn combine(estimates: &[Estimate]) -> Option<Mean> {
    match estimates {
        [] => None,
        [one] => Some(Mean {
            loss: *one,
            between_sd: 0.0,
            weights: vec![1.0],
        }),
        _ => {
            let values: Vec<f64> = estimates.iter().map(|e| e.value).collect();
            let variances: Vec<f64> = estimates.iter().map(|e| e.se * e.se).collect();
            let mean = random_effects(&values, &variances, Between::DerSimonianLaird)?;
            let known: f64 = estimates.iter().map(|e| e.degrees_of_freedom).sum();
            let raw: Vec<f64> = variances
                .iter()
                .map(|v| (v + mean.between_sd.powi(2)).recip())
                .collect();
            let total: f64 = raw.iter().sum();
            Some(Mean {
                loss: Estimate {
                    value: mean.mean,
                    se: mean.standard_error(SmallSample::NotBelowErrors),
                    degrees_of_freedom: if mean.between_sd > 0.0 {
                        (estimates.len() - 1) as f64
                    } else {
                        known
                    },
                },
                between_sd: mean.between_sd,
                weights: raw.iter().map(|w| w / total).collect(),
            })
        }
    }
}

/// The mean with the errors that recur, as far as its weights leave them in it.
fn with_recurring(fits: &[&LeakFit], own: &[Estimate]) -> Option<Mean> {
    let mut mean = combine(own)?;
    let errors = fits.iter().map(|f| &f.recurring_l_per_s[..]);
    let recurring = shared_error(mean.weights.iter().copied().zip(errors));
    mean.loss = mean.loss.with_known_error(recurring);
    Some(mean)
}

/// Rounds in which the spread between rests and what recurs settle.
const ROUNDS: usize = 3;

/// The mean beside what recurs, which the rests show together: an unrecorded
/// daily swing of temperature by nights and days, how air settles by short rests
/// after fills and after dumps. `None` where nothing recurs, and with too few
/// rests.
fn beside_recurring(fits: &[&LeakFit], own: &[Estimate]) -> Option<Mean> {
    let columns: Vec<Vec<f64>> = (0..3)
        .map(|k| fits.iter().map(|f| f.recurring_l_per_s[k]).collect())
        .filter(|column: &Vec<f64>| column.iter().any(|c| *c != 0.0))
        .collect();
    if columns.is_empty() {
        return None;
    }
    let mut terms = vec![Term::free(vec![1.0; fits.len()])];
    terms.extend(columns.iter().map(|c| Term::small(c.clone(), 1.0)));
    let losses: Vec<f64> = own.iter().map(|e| e.value).collect();
    let mut cleaned = own.to_vec();
    let mut found = None;
    for _ in 0..ROUNDS {
        let between_sd = combine(&cleaned)?.between_sd;
        let variances: Vec<f64> = own
            .iter()
            .map(|e| e.se.powi(2) + between_sd.powi(2))
            .collect();
        let fit = regress_known(&terms, &losses, &variances)?;
        for (i, loss) in cleaned.iter_mut().enumerate() {
            let sizes = columns.iter().zip(&fit.values[1..]);
            loss.value = losses[i] - sizes.map(|(c, size)| c[i] * size).sum::<f64>();
        }
        found = Some((fit, between_sd));
    }
    let (fit, between_sd) = found?;
    Some(Mean {
        loss: Estimate {
            value: fit.values[0],
            se: fit.standard_errors[0],
            degrees_of_freedom: fit.degrees_of_freedom,
        },
        between_sd,
        weights: fit.weights(0),
    })
}
