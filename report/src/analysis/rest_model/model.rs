//! State of the model of one car while it is fitted.

use std::collections::BTreeMap;

use super::columns::{Columns, Target, ThermometerKind};
use super::covariance::RestCovariance;
use super::gram::RestGram;
use super::hypothesis::Hypothesis;
use super::information::{Information, ParkInformation};
use super::parameters::{Group, Parameters, targets};
use super::park_estimates::{LeaveOneOut, ParkLeak};
use super::plan::Plan;
use super::posterior::Estimated;
use super::unrest;
use crate::parallel;

/// Persistent errors that nobody modelled, as a share of the air in 12 h, by
/// thermometer; the tank has half of it. **Source**: judgement.
const UNMODELLED_SHARE: [f64; 3] = [0.0020, 0.0025, 0.0040];

/// Parks whose information is held at once, so that memory does not grow with the log.
const PARKS_AT_ONCE: usize = 64;

/// Rests whose Gram matrices are made at once, for the same reason.
const RESTS_AT_ONCE: usize = 256;

/// What the leaks take out of one rest per unit conductance.
pub(super) struct RestEnds {
    /// Own leak, ln units, positive.
    pub(super) leak: f64,
    /// Other hypotheses: index and last value of the column.
    pub(super) others: Vec<(usize, f64)>,
    /// Air at its start, L ANR.
    air_l: f64,
    /// From the first to the last mean, s.
    pub(super) length_s: f64,
}

impl RestEnds {
    /// Air lost over the rest per unit of a conductance `c` and of what named transfers
    /// take, `transferred`, both as conductance of the leak, L ANR.
    ///
    /// Equation: `n₀·(1 − e^(−x)) / x · L`, `x = (c + transferred)·L`: what the model says
    /// of the amount at the end. The integral of the flow would say more than was there
    /// where the law of the leak is not that of a hole. A gain that no transfer explains
    /// counts up to `x = −1`.
    pub(super) fn flow_l(&self, c: f64, transferred: f64) -> f64 {
        let lost = (c * self.leak).max(-1.0) + transferred * self.leak;
        if lost.abs() < 1e-9 {
            self.air_l * self.leak
        } else {
            self.air_l * -(-lost).exp_m1() * self.leak / lost
        }
    }
}

/// What is learnt about one rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RestState {
    pub(super) unrest: f64,
    /// Conductance for which the error of a leak's shape is priced.
    pub(super) c0: f64,
    /// Own freedom of its leak.
    pub(super) omega: f64,
}

/// Model of one car.
pub(super) struct Model<'a> {
    pub(super) plan: &'a Plan<'a>,
    pub(super) parameters: Parameters,
    pub(super) groups: Vec<Group>,
    pub(super) size_factors: Vec<f64>,
    pub(super) states: Vec<RestState>,
    pub(super) usual_unrest: Vec<f64>,
    pub(super) ends: Vec<RestEnds>,
    pub(super) parks: Vec<(usize, Vec<usize>)>,
    pub(super) information: Information,
    /// Persistent errors that nobody modelled, cm³/min ANR by volume.
    pub(super) unmodelled: Vec<f64>,
    /// Clear gains and losses of air, by volume.
    pub(super) gains_and_losses: Vec<(usize, usize)>,
    /// Global parameter of each persistent column, by rest.
    pub(super) columns_of: Vec<Vec<usize>>,
    grams: Vec<Option<RestGram>>,
    /// State for which each Gram matrix was made.
    made_for: Vec<(f64, f64)>,
    likelihoods: Vec<[f64; unrest::FACTORS.len()]>,
}

/// First look at one rest.
struct FirstLook {
    targets: Vec<Target>,
    ends: RestEnds,
    likelihoods: [f64; unrest::FACTORS.len()],
}

impl<'a> Model<'a> {
    pub(super) fn new(plan: &'a Plan<'a>) -> Self {
        let rests = &plan.car.rests;
        let indices: Vec<usize> = (0..rests.len()).collect();
        let looks = parallel::map(&indices, plan.settings.threads, |i| first_look(plan, *i));
        let mut parameters = Parameters::new(plan);
        let columns_of = looks
            .iter()
            .map(|l| parameters.register(&l.targets))
            .collect();
        let likelihoods: Vec<_> = looks.iter().map(|l| l.likelihoods).collect();
        let (usual_unrest, factors) = unrest::of_car(plan, &likelihoods);
        let groups = parameters.groups();
        let mut parks: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (i, rest) in rests.iter().enumerate() {
            parks.entry(rest.park).or_default().push(i);
        }
        let states = factors.into_iter().map(|unrest| RestState {
            unrest,
            c0: 0.0,
            omega: 0.0,
        });
        Self {
            size_factors: vec![1.0; groups.len()],
            states: states.collect(),
            usual_unrest,
            ends: looks.into_iter().map(|l| l.ends).collect(),
            parks: parks.into_iter().collect(),
            information: Information::none(parameters.len()),
            unmodelled: (0..plan.car.volumes.len())
                .map(|v| unmodelled(plan, v))
                .collect(),
            gains_and_losses: vec![(0, 0); plan.car.volumes.len()],
            grams: rests.iter().map(|_| None).collect(),
            made_for: vec![(f64::NAN, f64::NAN); rests.len()],
            columns_of,
            likelihoods,
            groups,
            parameters,
            plan,
        }
    }

    /// Chooses the unrest of every rest again, now that the size of its leak is known.
    pub(super) fn choose_unrest(&mut self) {
        let changed: Vec<usize> = (0..self.states.len())
            .filter(|i| self.states[*i].c0 != 0.0)
            .collect();
        let plan = self.plan;
        let again = parallel::map(&changed, plan.settings.threads, |i| {
            let columns = Columns::new(plan, &plan.car.rests[*i]);
            let covariance = RestCovariance::new(&columns);
            unrest::likelihoods(&columns, &covariance, self.states[*i].c0)
        });
        for (i, likelihoods) in changed.into_iter().zip(again) {
            self.likelihoods[i] = likelihoods;
        }
        let (usual, factors) = unrest::of_car(plan, &self.likelihoods);
        self.usual_unrest = usual;
        for (state, unrest) in self.states.iter_mut().zip(factors) {
            state.unrest = unrest;
        }
    }

    /// Brings the Gram matrices and the information of all parks up to date.
    pub(super) fn gather(&mut self) {
        let stale: Vec<usize> = (0..self.states.len())
            .filter(|i| self.made_for[*i] != (self.states[*i].unrest, self.states[*i].c0))
            .collect();
        let plan = self.plan;
        for some in stale.chunks(RESTS_AT_ONCE) {
            let made = parallel::map(some, plan.settings.threads, |i| self.gram(*i));
            for (i, gram) in some.iter().zip(&made) {
                // A copy by this thread goes where earlier steps left room. What the others
                // made lies in memory of their own, which is free for the next ones.
                self.grams[*i] = gram.clone();
                self.made_for[*i] = (self.states[*i].unrest, self.states[*i].c0);
            }
        }
        let all: Vec<usize> = (0..self.parks.len()).collect();
        let mut information = Information::none(self.parameters.len());
        for some in all.chunks(PARKS_AT_ONCE) {
            let parks = parallel::map(some, plan.settings.threads, |p| self.park(*p, true));
            parks.iter().flatten().for_each(|p| information.add(p));
        }
        self.information = information.complete();
    }

    /// Gram matrix of one rest in its present state.
    fn gram(&self, i: usize) -> Option<RestGram> {
        let columns = Columns::new(self.plan, &self.plan.car.rests[i]);
        let covariance = RestCovariance::new(&columns);
        let RestState { unrest, c0, .. } = self.states[i];
        RestGram::new(&columns, &covariance, &self.columns_of[i], unrest, c0)
    }

    /// Information of one park, with or without the own freedom of its leaks.
    fn park(&self, park: usize, freedom: bool) -> Option<ParkInformation> {
        let rests: Vec<(&RestGram, f64)> = self.parks[park]
            .1
            .iter()
            .filter_map(|i| {
                let omega = if freedom { self.states[*i].omega } else { 0.0 };
                self.grams[*i].as_ref().map(|g| (g, omega))
            })
            .collect();
        if rests.is_empty() {
            return None;
        }
        ParkInformation::new(&rests)
    }

    /// Estimates every park and volume: alone, or with the errors known from the
    /// other parks. Entry p holds the leaks of `parks[p]`.
    pub(super) fn park_leaks(
        &self,
        alone: bool,
        active: &[usize],
        transfers: Vec<(usize, Estimated)>,
    ) -> Vec<Vec<ParkLeak>> {
        let information = (!alone).then_some(&self.information);
        let layout = LeaveOneOut::new(self.plan, &self.parameters, information, active, transfers);
        let all: Vec<usize> = (0..self.parks.len()).collect();
        parallel::map(&all, self.plan.settings.threads, |p| {
            let with_freedom = if alone { None } else { self.park(*p, true) };
            self.park(*p, false)
                .and_then(|own| layout.park(with_freedom.as_ref(), &own))
                .unwrap_or_default()
        })
    }

    /// Rests of one volume in one park that entered the model.
    pub(super) fn rests_in(&self, park: usize, volume: usize) -> Vec<usize> {
        let rests = self.parks[park].1.iter().copied();
        rests
            .filter(|i| self.plan.car.rests[*i].volume == volume && self.grams[*i].is_some())
            .collect()
    }

    /// Rests whose readings were not finite.
    pub(super) fn unusable(&self) -> Vec<usize> {
        (0..self.grams.len())
            .filter(|i| self.grams[*i].is_none())
            .collect()
    }

    /// Sets the sizes of the families.
    pub(super) fn set_sizes(&mut self, factors: Vec<f64>) {
        for (group, factor) in self.groups.iter().zip(&factors) {
            for i in &group.members {
                self.parameters.sd[*i] = self.parameters.usual_sd[*i] * factor;
            }
        }
        self.size_factors = factors;
    }
}

fn first_look(plan: &Plan<'_>, i: usize) -> FirstLook {
    let columns = Columns::new(plan, &plan.car.rests[i]);
    let covariance = RestCovariance::new(&columns);
    FirstLook {
        targets: targets(&columns),
        ends: ends(&columns),
        likelihoods: unrest::likelihoods(&columns, &covariance, 0.0),
    }
}

fn ends(columns: &Columns<'_>) -> RestEnds {
    let last = columns.len() - 1;
    let t = &columns.rest.t_s;
    let others = columns.persistent.iter().filter_map(|(target, column)| {
        let Target::Hypothesis(i) = target else {
            return None;
        };
        let plain = matches!(columns.plan.hypotheses[*i], Hypothesis::Leak { .. });
        (!plain).then(|| (*i, column[last]))
    });
    RestEnds {
        leak: columns.leak[last].abs(),
        others: others.collect(),
        air_l: columns.air_l[0],
        length_s: t[last] - t[0],
    }
}

fn unmodelled(plan: &Plan<'_>, volume: usize) -> f64 {
    let reference = plan.reference(volume);
    let of = &plan.car.volumes[volume];
    let kind = ThermometerKind::of(of);
    let [own, far, none] = UNMODELLED_SHARE;
    let half = if of.is_tank { 0.5 } else { 1.0 };
    kind.pick(own, far, none) * half * reference.anr_l * 1000.0 / 720.0
}

#[cfg(test)]
mod tests {
    use super::RestEnds;

    /// Invented: 15 L that a passing valve makes 34.5 L, or a leak 5 L, in a night.
    #[test]
    fn the_flow_is_the_change_of_the_amount_whatever_moved_it() {
        let ends = RestEnds {
            leak: 0.02,
            others: Vec::new(),
            air_l: 15.0,
            length_s: 43_200.0,
        };
        let gained = (34.5_f64 / 15.0).ln() / -ends.leak;
        let lost = (5.0_f64 / 15.0).ln() / -ends.leak;
        assert!((ends.flow_l(0.0, gained) * gained + 19.5).abs() < 1e-9);
        assert!((ends.flow_l(lost, 0.0) * lost - 10.0).abs() < 1e-9);
        let both = lost + gained;
        assert!((ends.flow_l(lost, gained) * both - (15.0 - 34.5 / 3.0)).abs() < 1e-9);
        assert!((ends.flow_l(0.0, 0.0) - 0.3).abs() < 1e-12);
    }
}
