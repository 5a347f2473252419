//! Detection limit of a hypothesis, from the very rule that names it.

use super::hypothesis::Hypothesis;
use super::model::Model;
use super::park_estimates::ParkLeak;
use super::refilled::limit_with_refills;
use super::selection::Selection;
use super::trials::{Trial, Trials};
use crate::parallel;

/// Power of the printed limit, 95 %: one-sided normal quantile.
const POWER_Z: f64 = 1.645;

/// Steps by which a leak grows until the whole rule names it, and halvings of the last.
const STEP: f64 = 1.3;
const STEPS: usize = 10;
const HALVINGS: usize = 2;

impl Model<'_> {
    /// Returns for every hypothesis the smallest conductance that would be named in 95 of
    /// 100 such logs; `None` for a named one, for one with a date, for a corner without
    /// height, and where none in reach would be named.
    ///
    /// Equation: `c* + 1.645·se`, c* the smallest estimate that the rule names. For a
    /// plain leak the whole rule is run on the log with that leak added: errors are learnt
    /// beside it and set against it, and take a part of it. A leak of the tank also ends its
    /// own rests ([`limit_with_refills`]). Conditions are judged with the
    /// errors as they are known without them.
    pub(super) fn detection_limits(
        &self,
        selection: &Selection,
        leaks: &[Vec<ParkLeak>],
    ) -> Vec<Option<f64>> {
        let all: Vec<usize> = (0..self.plan.hypotheses.len()).collect();
        let trials = Trials::new(self, selection);
        parallel::map(&all, self.plan.settings.threads, |i| {
            self.detection_limit(*i, selection, leaks, trials.as_ref())
        })
    }

    fn detection_limit(
        &self,
        i: usize,
        selection: &Selection,
        leaks: &[Vec<ParkLeak>],
        trials: Option<&Trials<'_>>,
    ) -> Option<f64> {
        let hypothesis = self.plan.hypotheses[i];
        let volume = &self.plan.car.volumes[hypothesis.volume()];
        let is_dated = hypothesis.date().is_some();
        if is_dated || selection.active.contains(&i) || !(volume.is_tank || volume.has_height) {
            return None;
        }
        let judged = self.judged(i, selection.estimates[i]?, selection);
        let least = least_estimate(self, hypothesis, judged.se)?;
        if let Hypothesis::Leak { volume: v } = hypothesis {
            let limit = limit_by_the_rule(&trials?.of(i)?, least)?;
            if volume.is_tank {
                let reference = self.plan.reference(v);
                let told = |park| self.told(leaks, v, park);
                limit_with_refills(self.plan.car, v, &reference, &told, limit)
            } else {
                Some(limit)
            }
        } else {
            Some(least + POWER_Z * judged.se)
        }
    }
}

impl Model<'_> {
    /// Inverse variance of a volume's leak in one park.
    fn told(&self, leaks: &[Vec<ParkLeak>], volume: usize, park: usize) -> f64 {
        let at = self.parks.iter().position(|p| p.0 == park);
        let leaks = at
            .and_then(|at| leaks.get(at))
            .map_or(&[][..], Vec::as_slice);
        let own = leaks.iter().find(|l| l.volume == volume);
        own.map_or(0.0, |l| l.estimated.se.powi(-2))
    }
}

fn limit_by_the_rule(trial: &Trial<'_>, least: f64) -> Option<f64> {
    let mut high = least;
    let mut se = None;
    for _ in 0..STEPS {
        se = trial.would_be_named(high);
        if se.is_some() {
            break;
        }
        high *= STEP;
    }
    let mut se = se?;
    let mut low = high / STEP;
    for _ in 0..HALVINGS {
        if low < least {
            break;
        }
        let middle = (low * high).sqrt();
        match trial.would_be_named(middle) {
            Some(its) => (high, se) = (middle, its),
            None => low = middle,
        }
    }
    Some(high + POWER_Z * se)
}

/// Returns the smallest estimate whose odds reach the threshold and that is worth naming,
/// with the errors as they are known now. `None` where none in reach would be.
fn least_estimate(model: &Model<'_>, hypothesis: Hypothesis, se: f64) -> Option<f64> {
    let floor = model.plan.floor(hypothesis);
    let need = model.needed_ln_odds() - model.ln_prior(hypothesis);
    let named = |c: f64| c > floor && model.ln_bayes_factor(c, se, floor) > need;
    let (mut low, mut high) = (0.0, 60.0 * (se + floor));
    if !named(high) {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if named(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(high)
}
