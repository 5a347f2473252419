//! All rests of a volume together.

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
    let pooled = |pick: &dyn Fn(&LeakFit) -> Option<Estimate>| -> Option<(Estimate, f64)> {
        let estimates: Vec<Estimate> = own.iter().filter_map(|f| pick(f)).collect();
        combine(&estimates)
    };
    let (loss, between) = pooled(&|f| Some(f.loss_l_per_s))?;
    Some(PooledLeak {
        place: place.into(),
        loss_l_per_s: loss,
        between_sd_l_per_s: between,
        kpa_per_h: pooled(&|f| Some(f.kpa_per_h))?.0,
        mm_per_h: pooled(&|f| f.mm_per_h).map(|p| p.0),
        rests: own.len(),
        seconds: own.iter().map(|f| f.t_s.1 - f.t_s.0).sum(),
        lower_bound: own.iter().any(|f| f.lower_bound),
    })
}

/// One estimate stands for itself; more are pooled with the variance between.
fn combine(estimates: &[Estimate]) -> Option<(Estimate, f64)> {
    match estimates {
        [] => None,
        [one] => Some((*one, 0.0)),
        _ => {
            let values: Vec<f64> = estimates.iter().map(|e| e.value).collect();
            let variances: Vec<f64> = estimates.iter().map(|e| e.se * e.se).collect();
            let mean = random_effects(&values, &variances, Between::DerSimonianLaird)?;
            let known: f64 = estimates.iter().map(|e| e.degrees_of_freedom).sum();
            Some((
                Estimate {
                    value: mean.mean,
                    se: mean.standard_error(SmallSample::NotBelowErrors),
                    degrees_of_freedom: if mean.between_sd > 0.0 {
                        (estimates.len() - 1) as f64
                    } else {
                        known
                    },
                },
                mean.between_sd,
            ))
        }
    }
}
