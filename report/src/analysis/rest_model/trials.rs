//! Trial leaks: whether a leak of some conductance would be named on this log.
//!
//! A leak of conductance δ more adds δ times its column to the readings, and with that
//! δ times its column of the information to `η`; the information stays. What is solved
//! once for the log therefore serves every trial of every volume: mean and evidence of
//! a start are linear and quadratic in δ, and other precisions of the few hypotheses
//! in play are steps of low rank.

use super::hypothesis::Hypothesis;
use super::model::Model;
use super::posterior::{Estimated, Posterior, prior_precision};
use super::selection::{BEYOND_CHALLENGE_NATS, Selection};
use super::sized_posterior::{PrecisionChange, SizedPosterior};
use super::sizes::{STARTS, SizeSearch, Sizes, StartPoint};

/// Posterior of the log as it is, under one set of precisions.
struct Base {
    factors: Vec<f64>,
    whole: Posterior,
    kept: SizedPosterior,
}

/// What trial leaks of all volumes share.
pub(super) struct Trials<'a> {
    model: &'a Model<'a>,
    selection: &'a Selection,
    search: SizeSearch<'a>,
    /// Prior precision while sizes are learnt beside the selection.
    learning: Vec<Option<f64>>,
    /// Under the present sizes, with the named hypotheses free.
    free: Base,
    /// While sizes are learnt: under the present ones, and from every fixed start.
    present: Option<Base>,
    fixed: Vec<Option<Base>>,
}

impl<'a> Trials<'a> {
    /// Solves what all trials beside this selection share. `None` where the model has
    /// no solution.
    pub(super) fn new(model: &'a Model<'a>, selection: &'a Selection) -> Option<Self> {
        let search = model.size_search();
        let learning = model.learning_precision(&selection.active, &selection.estimates);
        let free = prior_precision(model.plan, &model.parameters, &selection.active);
        let hypotheses: Vec<usize> = (0..model.plan.hypotheses.len()).collect();
        let mut keep = search.learnt();
        keep.extend(&hypotheses);
        let base = |factors: Vec<f64>| {
            let precision = search.precision(&learning, &factors);
            Base::new(model, factors, &precision, &keep)
        };
        Some(Self {
            present: base(model.size_factors.clone()),
            fixed: STARTS.iter().map(|s| base(search.start(s))).collect(),
            free: Base::new(model, model.size_factors.clone(), &free, &hypotheses)?,
            learning,
            model,
            selection,
            search,
        })
    }

    /// Share of a leak that its estimate shows, see [`Model::left_of_leak`].
    pub(super) fn left_of_leak(&self, volume: usize) -> f64 {
        self.model.left_of_leak(volume, &self.free.whole)
    }

    /// Prepares trials of one leak, which is not selected.
    pub(super) fn of(&self, leak: usize) -> Option<Trial<'_>> {
        let model = self.model;
        debug_assert!(matches!(
            model.plan.hypotheses[leak],
            Hypothesis::Leak { .. }
        ));
        let with = |base: &'_ Base| base.response(model, leak);
        Some(Trial {
            shared: self,
            leak,
            estimate: self.selection.estimates[leak]?.c,
            free: with(&self.free),
            present: self.present.as_ref().map(with),
            fixed: self.fixed.iter().map(|b| b.as_ref().map(with)).collect(),
        })
    }
}

impl Base {
    fn new(
        model: &Model<'_>,
        factors: Vec<f64>,
        precision: &[Option<f64>],
        keep: &[usize],
    ) -> Option<Self> {
        let whole = Posterior::new(&model.information, precision)?;
        let kept = SizedPosterior::of(&whole, &model.information, precision, keep);
        Some(Self {
            factors,
            whole,
            kept,
        })
    }

    /// Solves for a leak of unit conductance more: `v = C J_i`, `J_iᵀm`, `J_iᵀv`.
    fn response(&self, model: &Model<'_>, leak: usize) -> Response {
        let column = model.information.precision.column(leak);
        let used = &self.whole.used;
        let column = nalgebra::DVector::from_fn(used.len(), |k, _| column[used[k]]);
        let change = &self.whole.covariance * &column;
        let mut mean = vec![0.0; self.whole.place.len()];
        for (k, i) in used.iter().enumerate() {
            mean[*i] = change[k];
        }
        Response {
            mean,
            slope: column.dot(&self.whole.mean),
            curvature: column.dot(&change),
        }
    }
}

/// Change of a base by a leak of unit conductance.
struct Response {
    /// Of the mean, by parameter.
    mean: Vec<f64>,
    /// Of the log evidence: `δ·slope + ½ δ²·curvature`.
    slope: f64,
    curvature: f64,
}

impl Response {
    /// Returns the base with a leak of conductance `more` added.
    fn added(&self, base: &Base, more: f64) -> SizedPosterior {
        let mean: Vec<f64> = self.mean.iter().map(|v| v * more).collect();
        let mut posterior = base.kept.clone();
        posterior.add(
            &mean,
            more * self.slope + 0.5 * more * more * self.curvature,
        );
        posterior
    }
}

/// How unlucky a trial may be and still has to name its leak.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Chance {
    /// Standard deviations.
    pub(super) z: f64,
    /// What scatters beside the error of the estimate, one standard deviation.
    pub(super) scatter: f64,
}

/// Trials of one leak.
pub(super) struct Trial<'a> {
    shared: &'a Trials<'a>,
    leak: usize,
    estimate: f64,
    free: Response,
    present: Option<Response>,
    fixed: Vec<Option<Response>>,
}

impl Trial<'_> {
    /// Whether the leak would be named beside the selected hypotheses if its estimate were
    /// `c`, also where chance takes it `chance.z` standard deviations down: the sizes of the
    /// errors are learnt again, it is judged and challenged as in the last round. `None` where
    /// the model has no solution.
    pub(super) fn is_named(&self, c: f64, chance: Chance) -> Option<bool> {
        let model = self.shared.model;
        let need = model.needed_ln_odds();
        let more = c - self.estimate;
        let mut with_it = self.selection_with(more)?;
        let learning = model.learning_precision(&with_it.active, &with_it.estimates);
        let (with, posterior) = self.learnt_with(more, &with_it, &learning)?;
        let free = prior_precision(model.plan, &model.parameters, &with_it.active);
        let mut named_free = posterior.clone();
        named_free.change_precision(&changes(&with_it.active, &learning, &free))?;
        with_it.estimates = estimates(&named_free, &with_it);
        let expected = with_it.estimates[self.leak]?;
        let se = model.judged(self.leak, expected, &with_it).se;
        let all = se.hypot(chance.scatter);
        let unlucky = Estimated {
            c: expected.c - chance.z * all,
            se: expected.se,
        };
        let judged = model.judged(self.leak, unlucky, &with_it);
        let floor = model.plan.floor(model.plan.hypotheses[self.leak]);
        if judged.ln_odds < need || judged.c < floor {
            return Some(false);
        }
        if judged.ln_odds > BEYOND_CHALLENGE_NATS {
            return Some(true);
        }
        let end = StartPoint {
            factors: with.factors.clone(),
            posterior,
        };
        let most = model.most_evidence_without(self.leak, &with, chance.z * all / se);
        let is_explained = self.is_explained_without(most, more, &with_it, end, &learning)?;
        Some(!is_explained)
    }

    /// Estimates beside the leak, under the present sizes.
    fn selection_with(&self, more: f64) -> Option<Selection> {
        let Trials {
            model, selection, ..
        } = self.shared;
        let mut with_it = (*selection).clone();
        let before = prior_precision(model.plan, &model.parameters, &with_it.active);
        with_it.active.push(self.leak);
        let after = prior_precision(model.plan, &model.parameters, &with_it.active);
        let mut posterior = self.free.added(&self.shared.free, more);
        posterior.change_precision(&changes(&[self.leak], &before, &after))?;
        with_it.estimates = estimates(&posterior, &with_it);
        Some(with_it)
    }

    /// Learns the sizes beside the leak: from the present ones and the usual start.
    fn learnt_with(
        &self,
        more: f64,
        with_it: &Selection,
        learning: &[Option<f64>],
    ) -> Option<(Sizes, SizedPosterior)> {
        let change = changes(&with_it.active, &self.shared.learning, learning);
        let starts = [
            self.start(&self.shared.present, &self.present, more, &change),
            self.start(&self.shared.fixed[0], &self.fixed[0], more, &change),
        ];
        self.shared.search.best(starts.into_iter().flatten())
    }

    /// Whether some sizes without the leak have more evidence than `most`: learnt from
    /// those at the `end` beside it, and from every fixed start.
    fn is_explained_without(
        &self,
        most: f64,
        more: f64,
        with_it: &Selection,
        mut end: StartPoint,
        learning: &[Option<f64>],
    ) -> Option<bool> {
        let shared = self.shared;
        let others = &shared.selection.active;
        let without = shared.model.learning_precision(others, &with_it.estimates);
        let own = changes(&with_it.active, learning, &without);
        let end = end.posterior.change_precision(&own).map(|()| end);
        let change = changes(others, &shared.learning, &without);
        let bases = shared.fixed.iter().zip(&self.fixed);
        let fixed = bases.filter_map(|(b, r)| self.start(b, r, more, &change));
        let starts = end.into_iter().chain(fixed);
        shared.search.gets_above(starts, most)
    }

    fn start(
        &self,
        base: &Option<Base>,
        response: &Option<Response>,
        more: f64,
        change: &[PrecisionChange],
    ) -> Option<StartPoint> {
        let base = base.as_ref()?;
        let mut posterior = response.as_ref()?.added(base, more);
        posterior.change_precision(change)?;
        Some(StartPoint {
            factors: base.factors.clone(),
            posterior,
        })
    }
}

/// Estimates of the named hypotheses; the others are of no account in a trial.
fn estimates(posterior: &SizedPosterior, selection: &Selection) -> Vec<Option<Estimated>> {
    let is_named = |i: usize| selection.active.contains(&i);
    (0..selection.estimates.len())
        .map(|i| is_named(i).then(|| posterior.estimate(i)).flatten())
        .collect()
}

fn changes(of: &[usize], from: &[Option<f64>], to: &[Option<f64>]) -> Vec<PrecisionChange> {
    of.iter()
        .filter_map(|i| {
            Some(PrecisionChange {
                parameter: *i,
                from: from[*i]?,
                to: to[*i]?,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Chance, Trials};
    use crate::analysis::rest_model::fit::chosen;
    use crate::analysis::rest_model::fixtures;
    use crate::analysis::rest_model::model::Model;
    use crate::analysis::rest_model::plan::Plan;
    use crate::analysis::rest_model::selection::Selection;
    use crate::analysis::rest_model::settings::Settings;

    /// The same decision, everything solved again on the log with the leak added.
    fn solved_again(
        model: &mut Model<'_>,
        leak: usize,
        c: f64,
        selection: &Selection,
    ) -> Option<bool> {
        let more = c - selection.estimates[leak]?.c;
        let column = model.information.precision.column(leak).into_owned();
        model.information.eta += column * more;
        let need = model.needed_ln_odds();
        let mut with_it = selection.clone();
        with_it.active.push(leak);
        with_it.estimates = model.estimates(&with_it.active)?;
        let with = model.learn_sizes(&with_it.active, &with_it.estimates, true, 1)?;
        model.set_sizes(with.factors.clone());
        with_it.estimates = model.estimates(&with_it.active)?;
        let judged = model.judged(leak, with_it.estimates[leak]?, &with_it);
        let floor = model.plan.floor(model.plan.hypotheses[leak]);
        if judged.ln_odds < need || judged.c < floor {
            return Some(false);
        }
        let without = model.sizes_without(leak, &with_it)?;
        Some(without.ln_evidence <= model.most_evidence_without(leak, &with, 0.0))
    }

    #[test]
    fn a_trial_decides_as_the_whole_rule_solved_again() {
        let settings = Settings::default();
        let mut decisions = (0, 0);
        for name in ["soak-healthy", "leak-sun", "fill-valve-no-thermometer"] {
            let car = fixtures::car(name);
            let plan = Plan::new(&car, &settings).unwrap();
            let mut model = Model::new(&plan);
            let selection = chosen(&mut model).unwrap().selection;
            let leaks = (0..car.volumes.len()).filter(|i| !selection.active.contains(i));
            for leak in leaks.collect::<Vec<_>>() {
                let floor = plan.floor(plan.hypotheses[leak]);
                for floors in [1.5, 3.0, 5.0, 9.0] {
                    let c = floors * floor;
                    let trials = Trials::new(&model, &selection).unwrap();
                    let quick = trials
                        .of(leak)
                        .unwrap()
                        .is_named(c, Chance::default())
                        .unwrap();
                    drop(trials);
                    let (sizes, eta) = (model.size_factors.clone(), model.information.eta.clone());
                    let again = solved_again(&mut model, leak, c, &selection).unwrap();
                    model.set_sizes(sizes);
                    model.information.eta = eta;
                    assert_eq!(quick, again, "{name} {leak} {floors}");
                    if quick {
                        decisions.0 += 1;
                    } else {
                        decisions.1 += 1;
                    }
                }
            }
        }
        assert!(decisions.0 > 5 && decisions.1 > 5, "{decisions:?}");
    }
}
