//! What the model of a car at rest decides: patterns, conditions, losses, and for
//! each volume whether it is fine.

use crate::analysis::air::Vessel;
use crate::analysis::conditions::{Condition, Conditional};
use crate::analysis::diagnose::{AirPattern, RankedPattern};
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::{CM3_MIN_PER_L_S, PooledLeak};
use crate::analysis::rest_model::{
    Car, Hypothesis, HypothesisEstimate, ParkEstimate, RestModelFit, Settings, Thermometer,
    VolumeEstimate, fit,
};
use crate::digest::Digest;
use seep_common::physics::gas::amount_anr_l;

/// The errors of the model are already widened for few rests.
const KNOWN: f64 = 1e6;

/// Share of the air that a volume may lose in 12 h where the rig gives no lowest
/// height: judgement.
const TOLERABLE_SHARE: f64 = 0.05;

/// Hours of a night for which a volume must hold.
const NIGHT_H: f64 = 12.0;

/// What can be said of one volume.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum VolumeVerdict {
    /// A fault is named there.
    Fault,
    /// Its loss is below what is tolerable, with 95 % certainty.
    Fine,
    /// No height or no volume is recorded: only what it loses at least is known.
    LowerBound,
    /// It may lose more than is tolerable.
    NotEnoughEvidence,
}

/// One volume as the model sees it.
///
/// **Units**: ANR L/s, mean over its rests.
#[derive(Debug, Clone, PartialEq)]
pub struct VolumeAtRest {
    /// Circuit, or `tank`.
    pub place: String,
    /// Verdict.
    pub verdict: VolumeVerdict,
    /// Loss, all rests together.
    pub loss_l_per_s: Estimate,
    /// What it loses at most.
    pub upper_l_per_s: f64,
    /// What it may lose.
    pub tolerable_l_per_s: f64,
    /// Smallest steady leak that would be named in 95 of 100 such logs.
    pub limit_l_per_s: Option<f64>,
    /// Mean loss over the loss at the usual pressure.
    pub flow_factor: f64,
    /// Only what it loses at least is known.
    pub is_lower_bound: bool,
}

/// One volume between two drives as the model sees it.
///
/// **Units**: times in seconds of log time; ANR L/s.
#[derive(Debug, Clone, PartialEq)]
pub struct ParkAtRest {
    /// Circuit, or `tank`.
    pub place: String,
    /// First and last reading, s.
    pub t_s: (f64, f64),
    /// Mean loss.
    pub loss_l_per_s: Estimate,
    /// Mean loss over the loss at the usual pressure.
    pub flow_factor: f64,
    /// Longest silence within, s.
    pub longest_silence_s: f64,
    /// Only what it loses at least is known.
    pub is_lower_bound: bool,
    /// What stood in for the temperature of its air.
    pub thermometer: Thermometer,
}

/// The car at rest.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AtRest {
    /// One per volume with a rest, in the rig's order, the tank last.
    pub volumes: Vec<VolumeAtRest>,
    /// Park by park and volume by volume.
    pub parks: Vec<ParkAtRest>,
    /// Steady leaks and transfers, by falling odds.
    pub patterns: Vec<RankedPattern>,
    /// Leaks under a condition, or in some rests only.
    pub conditionals: Vec<Conditional>,
}

impl AtRest {
    /// Fits the model to the rests of a log.
    pub(super) fn of(digest: &Digest) -> Self {
        let car = &digest.reduced.car;
        let fit = fit(car, &Settings::default());
        let model = Model {
            digest,
            car,
            fit: &fit,
        };
        AtRest {
            volumes: fit.volumes.iter().map(|v| model.volume(v)).collect(),
            parks: fit.rests.iter().map(|p| model.park(p)).collect(),
            patterns: model.patterns(),
            conditionals: model.conditionals(),
        }
    }

    /// One volume.
    #[must_use]
    pub fn volume(&self, place: &str) -> Option<&VolumeAtRest> {
        self.volumes.iter().find(|v| v.place == place)
    }

    /// The loss of the model in place of that of the single rests; pressure and
    /// height fall in proportion.
    pub(super) fn in_place_of(&self, leak: PooledLeak) -> PooledLeak {
        let Some(own) = self.volume(&leak.place) else {
            return leak;
        };
        let loss = own.loss_l_per_s;
        let per_loss = |e: &Estimate| loss.scaled(e.se / leak.loss_l_per_s.se);
        PooledLeak {
            loss_l_per_s: loss,
            kpa_per_h: per_loss(&leak.kpa_per_h),
            mm_per_h: leak.mm_per_h.as_ref().map(per_loss),
            per_s: per_loss(&leak.per_s),
            equivalent_conductance: per_loss(&leak.equivalent_conductance),
            ..leak
        }
    }
}

struct Model<'a> {
    digest: &'a Digest,
    car: &'a Car,
    fit: &'a RestModelFit,
}

impl Model<'_> {
    fn place(&self, volume: usize) -> String {
        self.car.volumes[volume].name.clone()
    }

    fn vessel(&self, volume: usize) -> Option<&Vessel> {
        self.digest.vessel(&self.car.volumes[volume].name)
    }

    /// A rig without this volume's size gives an assumed one: amounts are relative.
    fn is_sized(&self, volume: usize) -> bool {
        self.vessel(volume).is_some_and(|v| !v.is_relative())
    }

    fn is_bound_only(&self, volume: usize) -> bool {
        let volume_of_car = &self.car.volumes[volume];
        !self.is_sized(volume) || !(volume_of_car.is_tank || volume_of_car.has_height)
    }

    /// Mean flow over all rests of a volume for a conductance of 1, by time.
    fn flow_factor(&self, volume: usize) -> f64 {
        let own = || self.fit.rests.iter().filter(|r| r.volume == volume);
        let seconds: f64 = own().map(|r| r.duration_s).sum();
        let flow: f64 = own().map(|r| r.duration_s * r.flow_factor).sum();
        if seconds > 0.0 { flow / seconds } else { 1.0 }
    }

    /// A conductance at a volume as mean loss, ANR L/s.
    fn mean_loss(&self, volume: usize, conductance: f64, standard_error: f64) -> Estimate {
        Estimate {
            value: conductance,
            se: standard_error,
            degrees_of_freedom: KNOWN,
        }
        .scaled(self.flow_factor(volume) / CM3_MIN_PER_L_S)
    }

    fn volume(&self, v: &VolumeEstimate) -> VolumeAtRest {
        let to_l_per_s = self.flow_factor(v.volume) / CM3_MIN_PER_L_S;
        let upper_l_per_s = v.upper_bound.max(0.0) * to_l_per_s;
        let tolerable_l_per_s = self.tolerable_l_per_s(v);
        let is_touched = self
            .fit
            .named()
            .any(|h| h.hypothesis.touches(v.volume, self.car))
            || v.two_states.as_ref().is_some_and(|t| t.named);
        let verdict = if is_touched {
            VolumeVerdict::Fault
        } else if self.is_bound_only(v.volume) {
            VolumeVerdict::LowerBound
        } else if upper_l_per_s < tolerable_l_per_s && v.odd_losing_rests.is_empty() {
            VolumeVerdict::Fine
        } else {
            VolumeVerdict::NotEnoughEvidence
        };
        let leak = Hypothesis::Leak { volume: v.volume };
        let steady = self.fit.hypotheses.iter().find(|h| h.hypothesis == leak);
        VolumeAtRest {
            place: self.place(v.volume),
            verdict,
            loss_l_per_s: self.loss(v),
            upper_l_per_s,
            tolerable_l_per_s,
            limit_l_per_s: steady
                .and_then(|h| h.detection_limit)
                .map(|limit| limit * to_l_per_s),
            flow_factor: self.flow_factor(v.volume),
            is_lower_bound: self.is_bound_only(v.volume),
        }
    }

    /// Mean loss of a volume over its rests. The pooled value weighs each rest by
    /// its error; of a leak that comes and goes that is no mean over time, so there
    /// each rest counts by its length.
    ///
    /// Equation: `Σ dᵢ·qᵢ / Σ dᵢ`, its standard error from those of the rests and
    /// what all of them share.
    fn loss(&self, v: &VolumeEstimate) -> Estimate {
        let pooled = self.mean_loss(v.volume, v.pooled, v.pooled_standard_error);
        if !self.comes_and_goes(v) {
            return pooled;
        }
        let own = || self.fit.rests.iter().filter(|r| r.volume == v.volume);
        let seconds: f64 = own().map(|r| r.duration_s).sum();
        let share = |r: &ParkEstimate| r.duration_s * r.flow_factor / seconds / CM3_MIN_PER_L_S;
        let value = own().map(|r| share(r) * r.conductance).sum();
        let squares = own().map(|r| (share(r) * r.model_standard_error).powi(2));
        let scatter = squares.sum::<f64>().sqrt();
        Estimate {
            value,
            se: scatter.hypot(pooled.se),
            degrees_of_freedom: KNOWN,
        }
    }

    fn comes_and_goes(&self, v: &VolumeEstimate) -> bool {
        let by_condition = self
            .fit
            .named()
            .any(|h| h.hypothesis.is_conditional() && h.hypothesis.volume() == v.volume);
        by_condition || v.two_states.as_ref().is_some_and(|t| t.named)
    }

    fn park(&self, p: &ParkEstimate) -> ParkAtRest {
        let conductance = Estimate {
            value: p.conductance,
            se: p.standard_error,
            degrees_of_freedom: KNOWN,
        };
        ParkAtRest {
            place: self.place(p.volume),
            t_s: (p.start_s, p.end_s),
            loss_l_per_s: conductance.scaled(p.flow_factor / CM3_MIN_PER_L_S),
            flow_factor: p.flow_factor,
            longest_silence_s: p.longest_silence_s,
            is_lower_bound: self.is_bound_only(p.volume),
            thermometer: self.car.volumes[p.volume].thermometer.clone(),
        }
    }

    /// The air down to the lowest height that is good enough in a night; where the
    /// rig gives none, or the car already stands below it, a share of the air.
    fn tolerable_l_per_s(&self, v: &VolumeEstimate) -> f64 {
        let night_s = NIGHT_H * 3600.0;
        let share = TOLERABLE_SHARE * v.reference_anr_l / night_s;
        let last = self.car.rests.iter().rfind(|r| r.volume == v.volume);
        let state = last.and_then(|r| Some((r.kpa_abs[0], *r.height_mm.first()?, r.kelvin[0])));
        let limit = self
            .vessel(v.volume)
            .and_then(|vessel| Some((vessel, vessel.lowest_ok_mm?)));
        match (state, limit) {
            (Some((kpa_abs, mm, kelvin)), Some((vessel, lowest_mm))) if mm > lowest_mm => {
                let spare_l = vessel.volume_l(mm) - vessel.volume_l(lowest_mm);
                amount_anr_l(kpa_abs, spare_l, kelvin) / night_s
            }
            _ => share,
        }
    }

    fn estimate(&self, h: &HypothesisEstimate) -> Estimate {
        let tank = self.car.volumes.iter().position(|v| v.is_tank);
        let upstream = match h.hypothesis {
            Hypothesis::FillValve { volume } => tank.unwrap_or(volume),
            other => other.volume(),
        };
        self.mean_loss(upstream, h.conductance, h.standard_error)
    }

    fn patterns(&self) -> Vec<RankedPattern> {
        let named = self
            .fit
            .named()
            .filter(|h| self.is_sized(h.hypothesis.volume()));
        named
            .filter_map(|h| {
                let (pattern, rival) = self.pattern(h.hypothesis)?;
                Some(RankedPattern {
                    pattern,
                    flow_l_per_s: self.estimate(h),
                    probability: h.probability,
                    rivals: vec![(rival, 1.0 - h.probability)],
                })
            })
            .collect()
    }

    /// A pattern and what else the same readings could be.
    fn pattern(&self, hypothesis: Hypothesis) -> Option<(AirPattern, AirPattern)> {
        Some(match hypothesis {
            Hypothesis::Leak { volume } | Hypothesis::Growing { volume } => {
                let pattern = if self.car.volumes[volume].is_tank {
                    AirPattern::TankLeak
                } else {
                    AirPattern::CornerLeak {
                        place: self.place(volume),
                    }
                };
                (pattern, AirPattern::Tight)
            }
            Hypothesis::FillValve { volume } => (
                AirPattern::FillValvePassing {
                    place: self.place(volume),
                },
                AirPattern::TankLeak,
            ),
            Hypothesis::CrossLeak { volume, partner } => {
                let [high, low] = self.by_pressure(volume, partner);
                (
                    AirPattern::CrossLeak {
                        from: self.place(high),
                        to: self.place(low),
                    },
                    AirPattern::CornerLeak {
                        place: self.place(high),
                    },
                )
            }
            _ => return None,
        })
    }

    /// The two corners, that of the higher usual pressure first.
    fn by_pressure(&self, one: usize, other: usize) -> [usize; 2] {
        let usual = |v: usize| self.fit.volume(v).map_or(0.0, |v| v.reference_kpa_abs);
        if usual(one) >= usual(other) {
            [one, other]
        } else {
            [other, one]
        }
    }

    fn conditionals(&self) -> Vec<Conditional> {
        let by_condition = self.fit.named().filter_map(|h| {
            let condition = match h.hypothesis {
                Hypothesis::Cold { below_c, .. } => Condition::Colder(below_c),
                Hypothesis::Low { below_mm, .. } => Condition::HeightBelow(below_mm),
                Hypothesis::AfterDump { .. } => Condition::AfterDump,
                _ => return None,
            };
            let volume = h.hypothesis.volume();
            Some(Conditional {
                place: self.place(volume),
                condition: Some(condition),
                open_l_per_s: self.estimate(h),
                shut_l_per_s: self.steady(volume),
                p: 1.0 - h.probability,
                causes: vec![
                    (Some(condition), h.probability),
                    (None, 1.0 - h.probability),
                ],
                explained: None,
                rests: None,
                certain: None,
            })
        });
        let at_times = self.fit.volumes.iter().filter_map(|v| {
            let two = v.two_states.as_ref().filter(|t| t.named)?;
            let shut = self.mean_loss(v.volume, v.pooled, v.pooled_standard_error);
            Some(Conditional {
                place: self.place(v.volume),
                condition: None,
                open_l_per_s: self.mean_loss(
                    v.volume,
                    v.pooled + two.conductance,
                    v.pooled_standard_error,
                ),
                shut_l_per_s: shut,
                p: (-two.gain_nats).exp().min(1.0),
                causes: vec![(None, 1.0)],
                explained: None,
                rests: None,
                certain: Some(two.leaking_and_tight),
            })
        });
        let mut out: Vec<Conditional> = by_condition.collect();
        let sized = |c: &Conditional| {
            self.digest
                .vessel(&c.place)
                .is_some_and(|v| !v.is_relative())
        };
        for c in at_times {
            if out.iter().all(|o| o.place != c.place) {
                out.push(c);
            }
        }
        out.retain(sized);
        out
    }

    /// The steady leak of a volume, named or not.
    fn steady(&self, volume: usize) -> Estimate {
        let leak = Hypothesis::Leak { volume };
        let found = self.fit.hypotheses.iter().find(|h| h.hypothesis == leak);
        found.map_or_else(|| self.mean_loss(volume, 0.0, 0.0), |h| self.estimate(h))
    }
}
