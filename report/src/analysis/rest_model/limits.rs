//! Detection limit of a hypothesis, from the very rule that names it.

use super::hypothesis::Hypothesis;
use super::model::Model;
use super::park_estimates::ParkLeak;
use super::pooling::scale_error;
use super::refilled::limit_with_refills;
use super::selection::Selection;
use super::trials::{Chance, Trial, Trials};
use crate::parallel;

/// Power of the printed limit, 95 %: one-sided normal quantile.
const POWER_Z: f64 = 1.645;

/// Mean and standard deviation of a half-normal over its scale.
const HALF_NORMAL_MEAN: f64 = 0.797_885;
const HALF_NORMAL_SD: f64 = 0.602_810;

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
    /// beside it and set against it, take a part of it and must be beaten by a lead that
    /// chance leaves standing ([`Trial::is_named`]). A leak of the tank also ends its own
    /// rests ([`limit_with_refills`]). Conditions are judged with the errors as they are
    /// known without them.
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
        let least = least_estimate(self, hypothesis, judged.se)? + POWER_Z * judged.se;
        if let Hypothesis::Leak { volume: v } = hypothesis {
            let trials = trials?;
            let seen = self.limit_of_estimate(&trials.of(i)?, v, least)?;
            let limit = seen / trials.left_of_leak(v) + HALF_NORMAL_MEAN * self.plan.seep(v);
            if volume.is_tank {
                let reference = self.plan.reference(v);
                let told = |park| self.told(leaks, v, park);
                limit_with_refills(self.plan.car, v, &reference, &told, limit)
            } else {
                Some(limit)
            }
        } else {
            Some(least)
        }
    }

    /// Smallest expected estimate, `least` or more, that the whole rule names with the power
    /// promised.
    ///
    /// The volume scales every estimate. What a sound volume seeps is no leak, and the errors
    /// that its log taught have taken it up: a hole that passes c raises the estimate by c less
    /// that. Mean and scatter are those of a half-normal of the natural permeation.
    fn limit_of_estimate(&self, trial: &Trial<'_>, volume: usize, least: f64) -> Option<f64> {
        let seep = HALF_NORMAL_SD * self.plan.seep(volume);
        let scale = scale_error(&self.plan.car.volumes[volume]);
        let named = |c: f64| {
            let scatter = seep.hypot(scale * c);
            trial.is_named(
                c,
                Chance {
                    z: POWER_Z,
                    scatter,
                },
            )
        };
        smallest(least, named)
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

/// Smallest conductance from `least` on that is named, to a quarter of a step.
fn smallest(least: f64, named: impl Fn(f64) -> Option<bool>) -> Option<f64> {
    let mut high = least;
    let mut steps = 0;
    while !named(high)? {
        if steps == STEPS {
            return None;
        }
        high *= STEP;
        steps += 1;
    }
    let mut low = high / STEP;
    for _ in 0..HALVINGS {
        if low < least {
            break;
        }
        let middle = (low * high).sqrt();
        if named(middle)? {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(high)
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

#[cfg(test)]
mod tests {
    use crate::analysis::rest_model::columns::Columns;
    use crate::analysis::rest_model::fit::fit;
    use crate::analysis::rest_model::fixtures;
    use crate::analysis::rest_model::hypothesis::Hypothesis;
    use crate::analysis::rest_model::input::Car;
    use crate::analysis::rest_model::plan::Plan;
    use crate::analysis::rest_model::settings::Settings;

    /// The car with a leak, of which the pressure alone falls, or the height where there is one.
    fn leaking(car: &Car, volume: usize, c: f64, by_height: bool) -> Car {
        let settings = Settings::default();
        let plan = Plan::new(car, &settings).unwrap();
        let mut with = car.clone();
        for (rest, with) in car.rests.iter().zip(&mut with.rests) {
            if rest.volume != volume {
                continue;
            }
            for (i, ln_lost) in Columns::new(&plan, rest).leak.iter().enumerate() {
                let left = (c * ln_lost).exp();
                if by_height && !rest.height_mm.is_empty() {
                    let lost_l = (1.0 - left) * rest.volume_l[i];
                    with.height_mm[i] -= lost_l / rest.slope_l_per_mm[i];
                    with.volume_l[i] -= lost_l;
                } else {
                    with.kpa_abs[i] *= left;
                }
            }
        }
        with
    }

    #[test]
    fn a_leak_at_its_limit_is_named_and_one_of_a_third_is_not() {
        let (car, settings) = (fixtures::car("soak-healthy"), Settings::default());
        let mut tried = 0;
        for h in &fit(&car, &settings).hypotheses {
            let (Hypothesis::Leak { volume }, Some(limit)) = (h.hypothesis, h.detection_limit)
            else {
                continue;
            };
            for by_height in [false, true] {
                let named = |c: f64| {
                    let fit = fit(&leaking(&car, volume, c, by_height), &settings);
                    fit.named().any(|n| n.hypothesis == h.hypothesis)
                };
                assert!(named(limit), "{limit} at {volume}, by height {by_height}");
                assert!(!named(limit / 3.0), "{limit} at {volume}");
            }
            tried += 1;
        }
        assert!(tried >= 3, "{tried}");
    }
}
