//! Sizes of the families of persistent errors, learnt by empirical Bayes.
//!
//! One factor per family and owner on the usual standard deviation, from a grid.
//! Coordinate ascent: the evidence of one family's factor follows in closed form from
//! its block of the posterior.
//! **Source**: MacKay, *Neural Computation* 4 (1992) 415 (evidence framework; from
//! memory, unverified).

use super::columns::Family;
use super::parameters::{Group, Parameters};
use super::sized_posterior::{PrecisionChange, SizedPosterior};

/// Factors that are tried.
const GRID: [f64; 8] = [0.1, 0.2, 0.4, 0.7, 1.0, 1.5, 2.5, 4.0];
/// Penalty ½(ln x / 1.2)² of a factor. **Source**: judgement.
const PENALTY_SD: f64 = 1.2;
/// A step must gain this many nats.
const LEAST_GAIN: f64 = 0.1;
const SWEEPS: usize = 2;

/// Start of the ascent: factor by family, 1 where it is not listed.
type Start = &'static [(Family, f64)];

/// Starts: as usual; much sun and little soak; much soak and creep.
pub(super) const STARTS: [Start; 3] = [
    &[],
    &[(Family::Sun, 4.0), (Family::Soak, 0.4)],
    &[
        (Family::Soak, 2.5),
        (Family::Creep, 1.5),
        (Family::Lag, 1.5),
    ],
];

/// Largest factor of a family; `None` where it is bounded by what sensors are and
/// never learnt.
fn largest_factor(family: Family) -> Option<f64> {
    match family {
        Family::Gain | Family::Beta | Family::Common => None,
        Family::Day | Family::Other => Some(1.0),
        Family::Lag => Some(1.5),
        Family::Soak | Family::Sun | Family::Creep | Family::Visco | Family::Settle => Some(2.5),
        Family::Gap => Some(4.0),
    }
}

/// Learnt factors, one per group, with their log evidence.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sizes {
    pub(super) factors: Vec<f64>,
    pub(super) ln_evidence: f64,
}

/// Search of the factors of all groups.
pub(super) struct SizeSearch<'a> {
    groups: &'a [Group],
    usual_sd: &'a [f64],
}

/// Factors from which the ascent climbs, with the posterior under them.
pub(super) struct StartPoint {
    pub(super) factors: Vec<f64>,
    pub(super) posterior: SizedPosterior,
}

impl<'a> SizeSearch<'a> {
    pub(super) fn new(groups: &'a [Group], parameters: &'a Parameters) -> Self {
        Self {
            groups,
            usual_sd: &parameters.usual_sd,
        }
    }

    /// Returns factors of a fixed start, bounded by what each family may reach.
    pub(super) fn start(&self, start: Start) -> Vec<f64> {
        let of = |family: Family| {
            let listed = start.iter().find(|s| s.0 == family);
            listed.map_or(1.0, |s| s.1)
        };
        self.groups
            .iter()
            .map(|g| of(g.family).min(largest_factor(g.family).unwrap_or(4.0)))
            .collect()
    }

    /// Returns the prior precision of all parameters with errors of these factors;
    /// `hypotheses` holds that of the hypotheses in use.
    pub(super) fn precision(
        &self,
        hypotheses: &[Option<f64>],
        factors: &[f64],
    ) -> Vec<Option<f64>> {
        let mut precision = hypotheses.to_vec();
        for (group, factor) in self.groups.iter().zip(factors) {
            for i in &group.members {
                precision[*i] = Some((self.usual_sd[*i] * factor).powi(-2));
            }
        }
        precision
    }

    /// Returns the errors whose size is learnt.
    pub(super) fn learnt(&self) -> Vec<usize> {
        let learnt = self.groups.iter();
        let learnt = learnt.filter(|g| largest_factor(g.family).is_some());
        learnt.flat_map(|g| g.members.iter().copied()).collect()
    }

    /// Climbs from each start; returns the best end with the posterior reached.
    pub(super) fn best(
        &self,
        starts: impl IntoIterator<Item = StartPoint>,
    ) -> Option<(Sizes, SizedPosterior)> {
        starts
            .into_iter()
            .filter_map(|s| self.climb(s, f64::INFINITY))
            .max_by(|a, b| a.0.ln_evidence.total_cmp(&b.0.ln_evidence))
    }

    /// Returns whether a climb from one of the starts gets above a log evidence; a climb
    /// only ever gains, therefore it ends there. `None` where no start has a solution.
    pub(super) fn gets_above(
        &self,
        starts: impl IntoIterator<Item = StartPoint>,
        ln_evidence: f64,
    ) -> Option<bool> {
        let mut solved = None;
        for start in starts {
            if let Some((sizes, _)) = self.climb(start, ln_evidence) {
                solved = Some(sizes.ln_evidence > ln_evidence);
            }
            if solved == Some(true) {
                break;
            }
        }
        solved
    }

    /// Climbs until nothing gains any more, or above a log evidence that is enough.
    fn climb(&self, start: StartPoint, enough: f64) -> Option<(Sizes, SizedPosterior)> {
        let StartPoint {
            mut factors,
            mut posterior,
        } = start;
        let total = |factors: &[f64], posterior: &SizedPosterior| {
            let penalties: f64 = factors.iter().map(|x| penalty(*x)).sum();
            posterior.ln_evidence() + penalties
        };
        'sweeps: for _ in 0..SWEEPS {
            let mut moved = false;
            for (g, group) in self.groups.iter().enumerate() {
                let Some(top) = largest_factor(group.family) else {
                    continue;
                };
                if let Some(better) = self.better(group, &posterior, factors[g], top) {
                    let change = self.change(group, factors[g], better);
                    posterior.change_precision(&change)?;
                    factors[g] = better;
                    moved = true;
                    if total(&factors, &posterior) > enough {
                        break 'sweeps;
                    }
                }
            }
            if !moved {
                break;
            }
        }
        let sizes = Sizes {
            ln_evidence: total(&factors, &posterior),
            factors,
        };
        Some((sizes, posterior))
    }

    /// Returns a factor of one group that gains enough, if there is one.
    fn better(&self, group: &Group, posterior: &SizedPosterior, now: f64, top: f64) -> Option<f64> {
        let sd: Vec<f64> = group.members.iter().map(|i| self.usual_sd[*i]).collect();
        let data = posterior.data(&group.members, |k| (sd[k] * now).powi(-2))?;
        let evidence = |x: f64| Some(data.ln_evidence(|k| sd[k] * x)? + penalty(x));
        let present = evidence(now)?;
        let tried = GRID.into_iter().filter(|x| *x <= top);
        let (best, value) = tried
            .filter_map(|x| Some((x, evidence(x)?)))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        (best != now && value > present + LEAST_GAIN).then_some(best)
    }

    /// Prior precision of a group's members, before and after.
    fn change(&self, group: &Group, from: f64, to: f64) -> Vec<PrecisionChange> {
        let of = |i: &usize| PrecisionChange {
            parameter: *i,
            from: (self.usual_sd[*i] * from).powi(-2),
            to: (self.usual_sd[*i] * to).powi(-2),
        };
        group.members.iter().map(of).collect()
    }
}

fn penalty(factor: f64) -> f64 {
    -0.5 * (factor.ln() / PENALTY_SD).powi(2)
}
