//! All loss of one volume to the outside, over all rests.

use nalgebra::DVector;

use super::hypothesis::Hypothesis;
use super::input::Volume;
use super::model::Model;
use super::odds::few_rests_factor;
use super::posterior::{Posterior, prior_precision};
use super::selection::Selection;

/// Relative error of a conductance beside that of the volume: height and V(h).
const SCALE_ERROR: f64 = 0.03;
/// Share of the transfers that may be miscounted.
const TRANSFER_ERROR: f64 = 0.1;

/// Pooled conductance with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pooled {
    pub(super) c: f64,
    pub(super) se: f64,
}

/// Relative standard error of every conductance of a volume.
pub(super) fn scale_error(of: &Volume) -> f64 {
    of.volume_uncertainty.hypot(SCALE_ERROR)
}

impl Model<'_> {
    /// Pools one volume: its leak let free beside the active hypotheses, conditional
    /// ones weighted by what they took, plus the air that named transfers took. A leak
    /// that began counts whole and one that ended not at all: the answer is for the car
    /// as it stands.
    ///
    /// `flow` is the mean of the transfers out of this volume, weighted by time.
    pub(super) fn pooled(&self, volume: usize, selection: &Selection, flow: f64) -> Option<Pooled> {
        let leak = self
            .plan
            .hypotheses
            .iter()
            .position(|h| *h == Hypothesis::Leak { volume })?;
        let mut active = selection.active.clone();
        active.push(leak);
        let precision = prior_precision(self.plan, &self.parameters, &active);
        let posterior = Posterior::new(&self.information, &precision)?;
        let mut weights = DVector::zeros(posterior.used.len());
        weights[posterior.place[leak]?] = 1.0;
        for a in &selection.active {
            let hypothesis = self.plan.hypotheses[*a];
            if hypothesis.is_conditional() && hypothesis.volume() == volume {
                weights[posterior.place[*a]?] = match hypothesis {
                    Hypothesis::Since { .. } => 1.0,
                    Hypothesis::Until { .. } => 0.0,
                    _ => self.share_of_loss(*a, volume),
                };
            }
        }
        let c = weights.dot(&posterior.mean);
        let variance = weights.dot(&(&posterior.covariance * &weights));
        let grown =
            variance.sqrt() * few_rests_factor(self.information.effective_parks(leak) + 2.0);
        let scale = scale_error(&self.plan.car.volumes[volume]);
        let relative = scale * c.abs() + TRANSFER_ERROR * flow.abs();
        Some(Pooled {
            c: c + flow,
            se: grown.hypot(self.unmodelled[volume]).hypot(relative),
        })
    }

    /// What a conditional leak takes over what a plain one of the same conductance
    /// would have taken.
    fn share_of_loss(&self, hypothesis: usize, volume: usize) -> f64 {
        let (mut taken, mut plain) = (0.0, 0.0);
        for (rest, ends) in self.plan.car.rests.iter().zip(&self.ends) {
            if rest.volume == volume {
                plain += ends.leak;
                let here = ends.others.iter().find(|o| o.0 == hypothesis);
                taken += here.map_or(0.0, |o| o.1.abs());
            }
        }
        if plain > 0.0 { taken / plain } else { 0.0 }
    }
}
