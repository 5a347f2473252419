//! Greedy selection of hypotheses by their odds, and the challenge by other errors.

use super::hypothesis::Hypothesis;
use super::model::Model;
use super::odds::{few_rests_factor, ln_bayes_factor};
use super::posterior::{Estimated, Posterior, prior_precision};
use super::sized_posterior::SizedPosterior;
use super::sizes::{STARTS, SizeSearch, Sizes, StartPoint};

/// Most hypotheses that one car may have at once.
const STEPS: usize = 7;
/// A condition must beat the plain leak by this many nats.
const CONDITION_NATS: f64 = 3.0;
/// Volumes are not exact: a named transfer of 1 leaves this much unbalanced.
const TRANSFER_IMBALANCE: f64 = 0.12;
const CROSS_SHARE: f64 = 0.3;
/// Odds of a leak in a volume that gains as often as it loses, ln at most.
const UNSEEN_MOVES_LN_ODDS: f64 = -1.0;
/// Odds from which no other size of errors can explain a leak.
pub(super) const BEYOND_CHALLENGE_NATS: f64 = 60.0;
/// Scale of a leak while the sizes of errors are learnt.
const LEARNING_FLOORS: f64 = 20.0;
const LEARNING_LEAKS: f64 = 1.5;
const CHALLENGES: usize = 4;

/// Judged hypothesis: estimate with the standard error of the decision, ln odds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Judged {
    pub(super) c: f64,
    pub(super) se: f64,
    pub(super) ln_odds: f64,
}

/// What is named, and what is known of everything else.
#[derive(Debug, Clone, Default)]
pub(super) struct Selection {
    /// Indices of the named hypotheses, by falling odds.
    pub(super) active: Vec<usize>,
    /// Estimate of each hypothesis, by index.
    pub(super) estimates: Vec<Option<Estimated>>,
    /// Withdrawn in the challenge.
    pub(super) withdrawn: Vec<usize>,
}

impl Model<'_> {
    /// ln odds from which a hypothesis is named.
    pub(super) fn needed_ln_odds(&self) -> f64 {
        let p = self.plan.settings.named_from;
        (p / (1.0 - p)).ln()
    }

    pub(super) fn ln_prior(&self, hypothesis: Hypothesis) -> f64 {
        (self.plan.settings.prior * hypothesis.relative_prior()).ln()
    }

    /// Judges one hypothesis beside the active ones.
    pub(super) fn judged(&self, i: usize, estimated: Estimated, selection: &Selection) -> Judged {
        let hypothesis = self.plan.hypotheses[i];
        let volume = hypothesis.volume();
        let rests = self.information.effective_parks(i) + 2.0;
        let transfers = TRANSFER_IMBALANCE * self.transfers_at(volume, i, selection);
        let se = (estimated.se * few_rests_factor(rests))
            .hypot(self.unmodelled[volume])
            .hypot(transfers);
        let floor = self.plan.floor(hypothesis);
        let mut ln_odds = self.ln_bayes_factor(estimated.c, se, floor) + self.ln_prior(hypothesis);
        let (gains, losses) = self.gains_and_losses[volume];
        if !hypothesis.is_transfer() && gains >= 2 && gains >= losses {
            ln_odds = ln_odds.min(UNSEEN_MOVES_LN_ODDS);
        }
        Judged {
            c: estimated.c,
            se,
            ln_odds,
        }
    }

    /// Bayes factor with the scales of the settings.
    pub(super) fn ln_bayes_factor(&self, c: f64, se: f64, floor: f64) -> f64 {
        let settings = self.plan.settings;
        let slabs: Vec<f64> = settings.slab_floors.iter().map(|s| s * floor).collect();
        ln_bayes_factor(c, se, settings.permeation_floors * floor, &slabs)
    }

    /// Sum of the named transfers at a volume, other than hypothesis `but`.
    fn transfers_at(&self, volume: usize, but: usize, selection: &Selection) -> f64 {
        let tank = self.plan.car.volumes[volume].is_tank;
        let active = selection.active.iter().filter(|a| **a != but);
        active
            .map(|a| {
                let c = selection.estimates[*a].map_or(0.0, |e| e.c.abs());
                match self.plan.hypotheses[*a] {
                    Hypothesis::FillValve { volume: v } if v == volume || tank => c,
                    Hypothesis::CrossLeak { volume: v, partner }
                        if v == volume || partner == volume =>
                    {
                        CROSS_SHARE * c
                    }
                    _ => 0.0,
                }
            })
            .sum()
    }

    /// Estimates of all hypotheses beside the active ones.
    pub(super) fn estimates(&self, active: &[usize]) -> Option<Vec<Option<Estimated>>> {
        let precision = prior_precision(self.plan, &self.parameters, active);
        let posterior = Posterior::new(&self.information, &precision)?;
        Some(posterior.hypotheses(self.plan, &self.parameters, &self.information, active))
    }

    /// Selects hypotheses whose ln odds reach `need`, one by one; what falls below
    /// after a step goes.
    pub(super) fn select(&self, need: f64, withdrawn: &[usize]) -> Option<Selection> {
        let mut now = Selection {
            withdrawn: withdrawn.to_vec(),
            ..Selection::default()
        };
        for _ in 0..STEPS {
            now.estimates = self.estimates(&now.active)?;
            let Some(next) = self.next(need, &now) else {
                break;
            };
            now.active.push(next);
            now.estimates = self.estimates(&now.active)?;
            self.drop_superfluous(need, next, &mut now);
        }
        now.estimates = self.estimates(&now.active)?;
        let mut odds: Vec<(f64, usize)> = now
            .active
            .iter()
            .filter_map(|i| Some((self.judged(*i, now.estimates[*i]?, &now).ln_odds, *i)))
            .collect();
        odds.sort_by(|a, b| b.0.total_cmp(&a.0));
        now.active = odds.into_iter().map(|o| o.1).collect();
        Some(now)
    }

    fn next(&self, need: f64, now: &Selection) -> Option<usize> {
        let candidates: Vec<(f64, usize)> = (0..self.plan.hypotheses.len())
            .filter(|i| !now.active.contains(i) && !now.withdrawn.contains(i))
            .filter_map(|i| Some((i, now.estimates[i]?)))
            .filter(|(i, e)| e.c >= self.plan.floor(self.plan.hypotheses[*i]))
            .map(|(i, e)| (self.judged(i, e, now).ln_odds, i))
            .collect();
        let best = candidates
            .iter()
            .copied()
            .max_by(|a, b| a.0.total_cmp(&b.0))?;
        let chosen = self.plain_instead(need, best, &candidates);
        (chosen.0 >= need).then_some(chosen.1)
    }

    /// A condition must beat the plain leak of its volume clearly.
    fn plain_instead(
        &self,
        need: f64,
        best: (f64, usize),
        candidates: &[(f64, usize)],
    ) -> (f64, usize) {
        let hypothesis = self.plan.hypotheses[best.1];
        if !hypothesis.is_conditional() {
            return best;
        }
        let plain = Hypothesis::Leak {
            volume: hypothesis.volume(),
        };
        let plain = candidates
            .iter()
            .find(|c| self.plan.hypotheses[c.1] == plain);
        match plain {
            Some(p) if best.0 - p.0 < CONDITION_NATS && p.0 >= need => *p,
            _ => best,
        }
    }

    fn drop_superfluous(&self, need: f64, newest: usize, now: &mut Selection) {
        for a in now.active.clone() {
            if a == newest {
                continue;
            }
            let keeps = now.estimates[a].is_some_and(|e| {
                e.c >= self.plan.floor(self.plan.hypotheses[a])
                    && self.judged(a, e, now).ln_odds >= need
            });
            if !keeps {
                now.active.retain(|x| *x != a);
            }
        }
    }

    /// Learns the sizes of the errors beside `active` leaks, from several starts.
    pub(super) fn learn_sizes(
        &self,
        active: &[usize],
        estimates: &[Option<Estimated>],
        from_present: bool,
        starts: usize,
    ) -> Option<Sizes> {
        let search = self.size_search();
        let hypotheses = self.learning_precision(active, estimates);
        let learnt = search.learnt();
        let present = from_present.then(|| self.size_factors.clone());
        let fixed = STARTS.iter().take(starts).map(|s| search.start(s));
        let start = |factors: Vec<f64>| {
            let precision = search.precision(&hypotheses, &factors);
            let posterior = SizedPosterior::new(&self.information, &precision, &learnt)?;
            Some(StartPoint { factors, posterior })
        };
        let best = search.best(present.into_iter().chain(fixed).filter_map(start));
        best.map(|b| b.0)
    }

    pub(super) fn size_search(&self) -> SizeSearch<'_> {
        SizeSearch::new(&self.groups, &self.parameters)
    }

    /// Returns the prior precision while sizes are learnt beside `active` leaks: these
    /// at the scale of what they were estimated to be.
    pub(super) fn learning_precision(
        &self,
        active: &[usize],
        estimates: &[Option<Estimated>],
    ) -> Vec<Option<f64>> {
        let mut precision = prior_precision(self.plan, &self.parameters, active);
        for i in active {
            let c = estimates.get(*i).copied().flatten().map_or(0.0, |e| e.c);
            precision[*i] = Some(self.learning_scale(*i, c).powi(-2));
        }
        precision
    }

    fn learning_scale(&self, i: usize, c: f64) -> f64 {
        let floor = self.plan.floor(self.plan.hypotheses[i]);
        (LEARNING_FLOORS * floor).max(LEARNING_LEAKS * c.abs())
    }

    /// Sets each named hypothesis against the best explanation without it: errors may
    /// take other sizes then. Withdraws what does not win.
    pub(super) fn challenge(&mut self, mut selection: Selection) -> Option<Selection> {
        let need = self.needed_ln_odds();
        for _ in 0..CHALLENGES {
            let Some((loser, sizes)) = self.challenged(&selection)? else {
                break;
            };
            self.set_sizes(sizes.factors);
            let mut withdrawn = selection.withdrawn.clone();
            withdrawn.push(loser);
            selection = self.select(need, &withdrawn)?;
        }
        Some(selection)
    }

    fn challenged(&self, selection: &Selection) -> Option<Option<(usize, Sizes)>> {
        for a in selection.active.iter().rev() {
            let Some(estimated) = selection.estimates[*a] else {
                continue;
            };
            let judged = self.judged(*a, estimated, selection);
            if judged.ln_odds > BEYOND_CHALLENGE_NATS {
                continue;
            }
            let with = self.learn_sizes(&selection.active, &selection.estimates, true, 1)?;
            let without = self.sizes_without(*a, selection)?;
            if without.ln_evidence > self.most_evidence_without(*a, &with, 0.0) {
                return Some(Some((*a, without)));
            }
        }
        Some(None)
    }

    pub(super) fn sizes_without(&self, a: usize, selection: &Selection) -> Option<Sizes> {
        let others = selection.active.iter().copied().filter(|x| *x != a);
        let others: Vec<usize> = others.collect();
        self.learn_sizes(&others, &selection.estimates, true, STARTS.len())
    }

    /// Largest log evidence of sizes without a hypothesis under which it stays named, also
    /// where chance takes its lead `z` standard deviations down.
    ///
    /// Equation: it leads by `D`, of which by chance `±√(2D)`: `√D ≥ √D₀ + z/√2`, `D₀` the lead
    /// that it needs. **Source**: the log-likelihood ratio of two means of one Gaussian whose
    /// shift is δ standard deviations has the mean ½δ² and the variance δ² under the second
    /// (Neyman–Pearson, as in any text on detection).
    pub(super) fn most_evidence_without(&self, a: usize, with: &Sizes, z: f64) -> f64 {
        let half_normal = 2_f64.ln();
        let prior = self.ln_prior(self.plan.hypotheses[a]);
        let needed = self.needed_ln_odds() - prior - half_normal;
        let root = needed.max(0.0).sqrt() + z * std::f64::consts::FRAC_1_SQRT_2;
        with.ln_evidence - root * root
    }
}
