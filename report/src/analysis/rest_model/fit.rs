//! The fit of all rests of a car: learning, selection, estimates, limits.

use std::collections::BTreeSet;

use super::air_lost::{AirLosses, AirLost, law_matters};
use super::columns::Owner;
use super::dates::dated;
use super::estimates::{ErrorSize, ParkEstimate, RestModelFit, VolumeEstimate};
use super::hypothesis::{Hypothesis, HypothesisEstimate};
use super::input::Car;
use super::model::Model;
use super::park_estimates::ParkLeak;
use super::parts::RestParts;
use super::plan::Plan;
use super::pooling::Pooled;
use super::posterior::{Estimated, Posterior, prior_precision};
use super::scatter::{self, RestError, Scatter, VolumeRests};
use super::selection::Selection;
use super::settings::Settings;
use super::spread::spread;
use super::states::{StateRest, two_states};
use super::take_apart::take_apart as parts_of_park;

/// A rest is odd beyond this many standard deviations from its volume's centre.
const ODD_Z: f64 = 3.0;
/// A rest clearly gained or lost air beyond this many standard errors, and floors.
const CLEAR_SE: f64 = 4.0;
const CLEAR_FLOORS: f64 = 2.0;
/// Own freedom of every leak, relative.
const LEAK_FREEDOM: f64 = 0.05;
/// Relative error of a single rest: volume and height.
const REST_SCALE_ERROR: f64 = 0.06;
/// One-sided 95 %.
const ONE_SIDED_95: f64 = 1.645;

/// Fits the model to all rests of a car.
///
/// Returns an empty fit for a car without rests, and where the settings leave the
/// domain of the model (critical ratio outside 0 to 1).
///
/// **Units**: conductances in cm³/min ANR at the usual pressure of each volume.
/// **Source**: one linear Gaussian model; each part names its own.
///
/// # Examples
///
/// ```
/// use seep_report::analysis::rest_model::{Car, Settings, fit};
///
/// let empty = fit(&Car::default(), &Settings::default());
/// assert!(empty.hypotheses.is_empty());
/// ```
pub fn fit(car: &Car, settings: &Settings) -> RestModelFit {
    let Some(plan) = Plan::new(car, settings) else {
        return RestModelFit::default();
    };
    let undated = fit_plan(&plan);
    let dates = dated(&undated, car);
    if dates.is_empty() {
        return undated;
    }
    let with_dates = fit_plan(&plan.and(dates));
    let names_a_date = with_dates.named().any(|h| h.hypothesis.date().is_some());
    if names_a_date { with_dates } else { undated }
}

fn fit_plan(plan: &Plan<'_>) -> RestModelFit {
    let mut model = Model::new(plan);
    fitted(&mut model).unwrap_or_else(|| RestModelFit {
        unusable_rests: model.unusable(),
        ..RestModelFit::default()
    })
}

/// Named hypotheses with the error of the decision.
type Named = Vec<(usize, Estimated)>;

/// What the rounds of learning end with.
pub(super) struct Chosen {
    pub(super) selection: Selection,
    named: Named,
    leaks: Vec<Vec<ParkLeak>>,
}

fn fitted(model: &mut Model<'_>) -> Option<RestModelFit> {
    let chosen = chosen(model)?;
    Some(result(
        model,
        &chosen.selection,
        &chosen.named,
        &chosen.leaks,
    ))
}

/// Learns, selects and challenges in rounds.
pub(super) fn chosen(model: &mut Model<'_>) -> Option<Chosen> {
    model.gather();
    let alone = model.park_leaks(true, &[], Vec::new());
    set_freedom(model, &alone, &Vec::new());
    model.choose_unrest();
    let mut selection = Selection::default();
    let mut named: Named = Vec::new();
    let mut leaks = Vec::new();
    let rounds = model.plan.settings.rounds.max(1);
    for round in 0..rounds {
        let last = round + 1 == rounds;
        model.gather();
        learn(model, round, &selection)?;
        let need = if last { model.needed_ln_odds() } else { 0.0 };
        selection = model.select(need, &[])?;
        if last {
            selection = model.challenge(selection)?;
        }
        named = with_decision_errors(model, &selection);
        let transfers = named
            .iter()
            .copied()
            .filter(|n| model.plan.hypotheses[n.0].is_transfer());
        leaks = model.park_leaks(false, &selection.active, transfers.collect());
        if !last {
            set_freedom(model, &leaks, &named);
        }
    }
    Some(Chosen {
        selection,
        named,
        leaks,
    })
}

/// What one volume's rests say together.
#[derive(Clone, Copy)]
struct Together {
    /// Spread of the leak between rests, and centre: see [`spread`].
    spread: (f64, f64),
    scatter: Scatter,
}

impl Together {
    /// Of all volumes of the car.
    fn of_car(model: &Model<'_>, selection: &Selection, all: &[Placed]) -> Vec<Self> {
        let here = |volume: usize| -> Vec<&Placed> {
            all.iter().filter(|p| p.leak.volume == volume).collect()
        };
        let volumes = 0..model.plan.car.volumes.len();
        let rests: Vec<VolumeRests> = volumes
            .clone()
            .map(|volume| volume_rests(model, selection, volume, &here(volume)))
            .collect();
        let scatters = scatter::of_car(&rests);
        let pairs = volumes.zip(scatters);
        pairs
            .map(|(volume, scatter)| Self {
                spread: spread(&residuals(&here(volume))),
                scatter,
            })
            .collect()
    }
}

fn volume_rests(
    model: &Model<'_>,
    selection: &Selection,
    volume: usize,
    here: &[&Placed],
) -> VolumeRests {
    let leak = Hypothesis::Leak { volume };
    let at = model.plan.hypotheses.iter().position(|h| *h == leak);
    let pooled = at.and_then(|i| selection.estimates[i]);
    let rest = |p: &&Placed| RestError {
        residual: p.leak.estimated.c - p.predicted,
        model_se: p.leak.estimated.se,
        duration_s: duration_s(model, p.park, volume),
    };
    VolumeRests {
        rests: here.iter().map(rest).collect(),
        pooled,
        unmodelled_se: model.unmodelled[volume],
        seep: is_sound(model, selection, volume).then(|| model.plan.seep(volume)),
    }
}

/// No fault is named of the volume.
fn is_sound(model: &Model<'_>, selection: &Selection, volume: usize) -> bool {
    let volumes = &model.plan.car.volumes;
    let concerns = |h: Hypothesis| match h {
        Hypothesis::CrossLeak {
            volume: v, partner, ..
        } => v == volume || partner == volume,
        _ => h.volume() == volume || (h.is_transfer() && volumes[volume].is_tank),
    };
    let mut active = selection.active.iter();
    !active.any(|i| concerns(model.plan.hypotheses[*i]))
}

/// Length of a volume's rests within one park.
fn duration_s(model: &Model<'_>, park: usize, volume: usize) -> f64 {
    let rests = &model.plan.car.rests;
    let own = model.rests_in(park, volume).into_iter();
    own.map(|i| rests[i].end_s - rests[i].start_s).sum()
}

/// Standard error of one park with what nobody modelled and the scale of its volume.
fn standard_error(model: &Model<'_>, volume: usize, c: f64, se: f64) -> f64 {
    se.hypot(model.unmodelled[volume])
        .hypot(REST_SCALE_ERROR * c)
}

fn learn(model: &mut Model<'_>, round: usize, selection: &Selection) -> Option<()> {
    let sizes = if round == 0 {
        let leaks: Vec<usize> = (0..model.plan.hypotheses.len())
            .filter(|i| matches!(model.plan.hypotheses[*i], Hypothesis::Leak { .. }))
            .collect();
        model.learn_sizes(&leaks, &[], false, super::sizes::STARTS.len())?
    } else {
        model.learn_sizes(&selection.active, &selection.estimates, true, 0)?
    };
    model.set_sizes(sizes.factors);
    Some(())
}

fn with_decision_errors(model: &Model<'_>, selection: &Selection) -> Named {
    selection
        .active
        .iter()
        .filter_map(|i| {
            let judged = model.judged(*i, selection.estimates[*i]?, selection);
            let estimated = Estimated {
                c: judged.c,
                se: judged.se,
            };
            Some((*i, estimated))
        })
        .collect()
}

/// One park of one volume with what the named leaks predict.
struct Placed {
    park: usize,
    leak: ParkLeak,
    predicted: f64,
    transferred: f64,
}

fn placed(model: &Model<'_>, leaks: &[Vec<ParkLeak>], named: &Named) -> Vec<Placed> {
    let mut all = Vec::new();
    for (park, leaks) in leaks.iter().enumerate() {
        for leak in leaks {
            let (predicted, transferred) = expectation(model, park, leak.volume, named);
            all.push(Placed {
                park,
                leak: *leak,
                predicted,
                transferred,
            });
        }
    }
    all
}

/// What the named leaks predict for one volume in one park, and what the named
/// transfers take out of it, as conductance of its leak.
fn expectation(model: &Model<'_>, park: usize, volume: usize, named: &Named) -> (f64, f64) {
    let (mut lost, mut moved, mut unit) = (0.0, 0.0, 0.0);
    for i in model.rests_in(park, volume) {
        let ends = &model.ends[i];
        unit += ends.leak;
        for (h, estimated) in named {
            let hypothesis = model.plan.hypotheses[*h];
            if hypothesis == (Hypothesis::Leak { volume }) {
                lost += estimated.c * ends.leak;
                continue;
            }
            let Some((_, end)) = ends.others.iter().find(|o| o.0 == *h) else {
                continue;
            };
            if hypothesis.is_transfer() {
                moved -= estimated.c * end;
            } else {
                lost += estimated.c * end.abs();
            }
        }
    }
    if unit > 0.0 {
        (lost / unit, moved / unit)
    } else {
        (0.0, 0.0)
    }
}

/// Sets the own freedom of every rest's leak: the spread of its volume, and the excess
/// of an odd rest, so that it cannot teach the others.
fn set_freedom(model: &mut Model<'_>, leaks: &[Vec<ParkLeak>], named: &Named) {
    let all = placed(model, leaks, named);
    for volume in model.plan.live().collect::<Vec<_>>() {
        let here: Vec<&Placed> = all.iter().filter(|p| p.leak.volume == volume).collect();
        let residuals = residuals(&here);
        let (omega, centre) = spread(&residuals);
        model.gains_and_losses[volume] = gains_and_losses(model, volume, &here, named);
        for (placed, (c, se)) in here.iter().zip(&residuals) {
            let variance = se * se + omega * omega;
            let excess = ((c - centre).powi(2) - ODD_Z * ODD_Z * variance).max(0.0);
            let whole = placed.leak.estimated.c;
            let freedom = (omega * omega + excess + (LEAK_FREEDOM * whole).powi(2)).sqrt();
            for i in model.rests_in(placed.park, volume) {
                model.states[i].c0 = whole.abs();
                model.states[i].omega = freedom;
            }
        }
    }
}

fn residuals(here: &[&Placed]) -> Vec<(f64, f64)> {
    here.iter()
        .map(|p| (p.leak.estimated.c - p.predicted, p.leak.estimated.se))
        .collect()
}

fn gains_and_losses(
    model: &Model<'_>,
    volume: usize,
    here: &[&Placed],
    named: &Named,
) -> (usize, usize) {
    let floor = model.plan.reference(volume).floor;
    let clear = |sign: f64| {
        let of = here.iter().filter(|p| {
            let e = p.leak.estimated;
            sign * e.c > CLEAR_SE * e.se && sign * e.c > CLEAR_FLOORS * floor
        });
        of.count()
    };
    let fed = named.iter().any(|(h, _)| {
        let hypothesis = model.plan.hypotheses[*h];
        hypothesis.is_transfer()
            && match hypothesis {
                Hypothesis::CrossLeak {
                    volume: v, partner, ..
                } => v == volume || partner == volume,
                _ => hypothesis.volume() == volume,
            }
    });
    (if fed { 0 } else { clear(-1.0) }, clear(1.0))
}

fn result(
    model: &Model<'_>,
    selection: &Selection,
    named: &Named,
    leaks: &[Vec<ParkLeak>],
) -> RestModelFit {
    let all = placed(model, leaks, named);
    let precision = prior_precision(model.plan, &model.parameters, &selection.active);
    let posterior = Posterior::new(&model.information, &precision);
    let rests = park_estimates(model, selection, posterior.as_ref(), &all);
    let volumes = model
        .plan
        .live()
        .filter_map(|v| volume_estimate(model, v, selection, &rests))
        .collect();
    RestModelFit {
        hypotheses: hypothesis_estimates(model, selection, leaks),
        volumes,
        rests,
        error_sizes: error_sizes(model),
        withdrawn: selection
            .withdrawn
            .iter()
            .map(|i| model.plan.hypotheses[*i])
            .collect(),
        unusable_rests: model.unusable(),
        longest_parks: posterior.map_or(Vec::new(), |p| longest_parks(model, selection, &p)),
    }
}

/// The parks in which each volume rested longest, taken apart into causes: where a leak
/// began or ended, those since then.
fn longest_parks(
    model: &Model<'_>,
    selection: &Selection,
    posterior: &Posterior,
) -> Vec<RestParts> {
    let rests = &model.plan.car.rests;
    let active = || selection.active.iter().map(|a| model.plan.hypotheses[*a]);
    let since = |volume: usize| {
        let dates = active().filter(|h| h.volume() == volume);
        dates
            .filter_map(Hypothesis::date)
            .map(|d| d.at_s)
            .fold(f64::NEG_INFINITY, f64::max)
    };
    let length = |i: &usize| rests[*i].end_s - rests[*i].start_s;
    let longest = |volume: usize| {
        let from_s = since(volume);
        let own =
            (0..rests.len()).filter(|i| rests[*i].volume == volume && rests[*i].start_s > from_s);
        own.max_by(|a, b| length(a).total_cmp(&length(b)).then(b.cmp(a)))
    };
    let wanted: BTreeSet<usize> = (0..model.plan.car.volumes.len())
        .filter_map(longest)
        .filter_map(|i| model.parks.iter().position(|p| p.1.contains(&i)))
        .collect();
    let apart = wanted
        .iter()
        .filter_map(|p| parts_of_park(model, posterior, *p));
    apart.flatten().collect()
}

fn park_estimates(
    model: &Model<'_>,
    selection: &Selection,
    posterior: Option<&Posterior>,
    all: &[Placed],
) -> Vec<ParkEstimate> {
    let together = Together::of_car(model, selection, all);
    let losses = posterior.map(|posterior| AirLosses { model, posterior });
    crate::parallel::map(all, model.plan.settings.threads, |p| {
        let mut estimate = park_estimate(model, p, together[p.leak.volume])?;
        if let Some((c, se)) = losses.as_ref().and_then(|l| by_what_left(l, p, &estimate)) {
            estimate.conductance = c - p.transferred;
            estimate.standard_error = standard_error(model, p.leak.volume, c, se);
        }
        Some(estimate)
    })
    .into_iter()
    .flatten()
    .collect()
}

fn park_estimate(model: &Model<'_>, placed: &Placed, together: Together) -> Option<ParkEstimate> {
    let volume = placed.leak.volume;
    let rests = model.rests_in(placed.park, volume);
    let of = |i: &usize| &model.plan.car.rests[*i];
    let duration_s = duration_s(model, placed.park, volume);
    let Estimated { c, se } = placed.leak.estimated;
    let (flow_l, length_s) = rests.iter().fold((0.0, 0.0), |(f, l), i| {
        (
            f + model.ends[*i].flow_l(c, placed.transferred),
            l + model.ends[*i].length_s,
        )
    });
    let largest = |f: &dyn Fn(&usize) -> f64| rests.iter().map(f).reduce(f64::max);
    Some(ParkEstimate {
        volume,
        park: model.parks[placed.park].0,
        start_s: rests.iter().map(|i| of(i).start_s).reduce(f64::min)?,
        end_s: largest(&|i| of(i).end_s)?,
        duration_s,
        conductance: c,
        model_conductance: c,
        model_standard_error: se,
        standard_error: together
            .scatter
            .standard_error(se, duration_s)
            .hypot(REST_SCALE_ERROR * c),
        predicted: placed.predicted,
        transferred: placed.transferred,
        flow_factor: flow_l / length_s.max(1.0) * 60_000.0,
        unrest: largest(&|i| model.states[*i].unrest)?,
        z: (c - placed.predicted - together.spread.1) / se.hypot(together.spread.0),
        longest_silence_s: largest(&|i| of(i).longest_silence_s)?,
        rests,
    })
}

/// Conductance and standard error by the air that left, of a park that lost so much that
/// the law of the leak matters.
fn by_what_left(
    losses: &AirLosses<'_>,
    placed: &Placed,
    estimate: &ParkEstimate,
) -> Option<(f64, f64)> {
    let expected = placed.leak.estimated.c + placed.transferred;
    let ends = || estimate.rests.iter().map(|i| &losses.model.ends[*i]);
    if !law_matters(expected, ends().map(|e| e.leak).sum()) {
        return None;
    }
    let mut lost = AirLost::default();
    for rest in &estimate.rests {
        let one = losses.of_rest(*rest, expected)?;
        lost.anr_l += one.anr_l;
        lost.se_l += one.se_l;
    }
    let length_s: f64 = ends().map(|e| e.length_s).sum();
    let to_conductance = 60_000.0 / length_s.max(1.0) / estimate.flow_factor;
    Some((lost.anr_l * to_conductance, lost.se_l * to_conductance))
}

fn volume_estimate(
    model: &Model<'_>,
    volume: usize,
    selection: &Selection,
    rests: &[ParkEstimate],
) -> Option<VolumeEstimate> {
    let here: Vec<(usize, &ParkEstimate)> = rests
        .iter()
        .enumerate()
        .filter(|(_, r)| r.volume == volume)
        .collect();
    let time: f64 = here.iter().map(|(_, r)| r.duration_s).sum();
    let moved: f64 = here.iter().map(|(_, r)| r.transferred * r.duration_s).sum();
    let pooled = model.pooled(volume, selection, moved / time.max(1.0))?;
    let reference = model.plan.reference(volume);
    let odd = here
        .iter()
        .filter(|(_, r)| r.z > ODD_Z && r.conductance - ONE_SIDED_95 * r.standard_error > pooled.c);
    let odd_losing_rests: Vec<usize> = odd.map(|(i, _)| *i).collect();
    let residuals: Vec<(f64, f64)> = here
        .iter()
        .map(|(_, r)| (r.model_conductance - r.predicted, r.model_standard_error))
        .collect();
    let leak = Hypothesis::Leak { volume };
    let parameter = model.plan.hypotheses.iter().position(|h| *h == leak)?;
    Some(VolumeEstimate {
        volume,
        reference_kpa_abs: reference.bar_abs * 100.0,
        reference_anr_l: reference.anr_l,
        floor: reference.floor,
        pooled: pooled.c,
        pooled_standard_error: pooled.se,
        upper_bound: upper_bound(pooled, rests, &odd_losing_rests),
        clear_gains_and_losses: model.gains_and_losses[volume],
        effective_rests: model.information.effective_parks(parameter),
        usual_unrest: model.usual_unrest[volume],
        spread: spread(&residuals).0,
        two_states: states_of(model, volume, selection, &here),
        odd_losing_rests,
    })
}

fn upper_bound(pooled: Pooled, rests: &[ParkEstimate], odd: &[usize]) -> f64 {
    let singles = odd
        .iter()
        .map(|i| rests[*i].conductance + ONE_SIDED_95 * rests[*i].standard_error);
    singles.fold(pooled.c + ONE_SIDED_95 * pooled.se, f64::max)
}

fn states_of(
    model: &Model<'_>,
    volume: usize,
    selection: &Selection,
    here: &[(usize, &ParkEstimate)],
) -> Option<super::estimates::TwoStates> {
    let states: Vec<StateRest> = here
        .iter()
        .filter(|(_, r)| r.model_standard_error > 0.0)
        .map(|(index, r)| StateRest {
            index: *index,
            c: r.model_conductance - r.predicted,
            se: r.model_standard_error.hypot(model.unmodelled[volume]),
        })
        .collect();
    let leak = Hypothesis::Leak { volume };
    let steady = selection
        .active
        .iter()
        .filter(|i| model.plan.hypotheses[**i] == leak)
        .filter_map(|i| selection.estimates[*i])
        .fold(0.0, |m, e| f64::max(m, e.c));
    two_states(&states, model.plan.reference(volume).floor, steady)
}

fn hypothesis_estimates(
    model: &Model<'_>,
    selection: &Selection,
    leaks: &[Vec<ParkLeak>],
) -> Vec<HypothesisEstimate> {
    let limits = model.detection_limits(selection, leaks);
    let mut all: Vec<HypothesisEstimate> = (0..model.plan.hypotheses.len())
        .filter_map(|i| hypothesis_estimate(model, selection, i, limits[i]))
        .collect();
    all.sort_by(|a, b| b.named.cmp(&a.named).then(b.ln_odds.total_cmp(&a.ln_odds)));
    all
}

fn hypothesis_estimate(
    model: &Model<'_>,
    selection: &Selection,
    i: usize,
    detection_limit: Option<f64>,
) -> Option<HypothesisEstimate> {
    let hypothesis = model.plan.hypotheses[i];
    let judged = model.judged(i, selection.estimates[i]?, selection);
    let named = selection.active.contains(&i);
    Some(HypothesisEstimate {
        hypothesis,
        conductance: judged.c,
        standard_error: judged.se,
        ln_odds: judged.ln_odds,
        probability: 1.0 / (1.0 + (-judged.ln_odds).exp()),
        named,
        rivals: if named {
            model.rivals(i, selection)?
        } else {
            Vec::new()
        },
        detection_limit,
    })
}

fn error_sizes(model: &Model<'_>) -> Vec<ErrorSize> {
    let pairs = model.groups.iter().zip(&model.size_factors);
    pairs
        .map(|(group, factor)| ErrorSize {
            family: group.family.name().into(),
            volume: match group.owner {
                Owner::Volume(v) => Some(v),
                Owner::Bags | Owner::All => None,
            },
            factor: *factor,
        })
        .collect()
}
