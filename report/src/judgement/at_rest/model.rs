//! Conductances of the model as losses of volumes and parks.

use crate::analysis::air::Vessel;
use crate::analysis::at_rest::{
    Missing, NIGHT_H, ParkAtRest, SeenLaw, VolumeAtRest, VolumeVerdict,
};
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::{CM3_MIN_PER_L_S, Closer, PlainRest, PooledLeak};
use crate::analysis::rest_model::{
    Car, Hypothesis, ModelRest, ParkEstimate, RestModelFit, VolumeEstimate,
};
use crate::analysis::stats::median;
use crate::digest::Digest;
use seep_common::physics::gas::amount_anr_l;

/// The errors of the model are already widened for few rests.
const KNOWN: f64 = 1e6;

/// Share of a transfer between volumes by which one rest may differ: as for the error
/// of a single rest's volume and height, twice. Judgement.
const TRANSFER_ERROR: f64 = 0.12;

/// Share of the air that a volume may lose in 12 h where the rig gives no lowest
/// height: judgement.
const TOLERABLE_SHARE: f64 = 0.05;

/// A rest of this length tells how far a night cools, s.
const NIGHT_REST_S: f64 = 6.0 * 3600.0;

/// Critical pressure ratio of a sharp hole. **Source**: `(2/(κ+1))^(κ/(κ−1))` with
/// κ = 1.4 of air.
const CRITICAL_RATIO: f64 = 0.528;

pub(super) struct RestJudge<'a> {
    pub(super) digest: &'a Digest,
    pub(super) car: &'a Car,
    pub(super) fit: &'a RestModelFit,
    /// Decays of single rests: they tell the law of a leak.
    pub(super) single: &'a [PlainRest],
}

impl RestJudge<'_> {
    pub(super) fn place(&self, volume: usize) -> String {
        self.car.volumes[volume].name.clone()
    }

    fn vessel(&self, volume: usize) -> Option<&Vessel> {
        self.digest.vessel(&self.car.volumes[volume].name)
    }

    /// A rig without this volume's size gives an assumed one: amounts are relative.
    pub(super) fn is_sized(&self, volume: usize) -> bool {
        self.vessel(volume).is_some_and(|v| !v.is_relative())
    }

    /// What is missing to see all that the volume loses.
    pub(super) fn missing(&self, volume: usize) -> Option<Missing> {
        let of = &self.car.volumes[volume];
        let follows = self.vessel(volume).is_some_and(|v| v.volume.needs_height());
        if of.is_tank || of.has_height {
            None
        } else if !self.is_sized(volume) {
            Some(Missing::Volume)
        } else if follows {
            Some(Missing::Height)
        } else {
            Some(Missing::VolumeByHeight)
        }
    }

    fn rests(&self, volume: usize) -> impl Iterator<Item = &ModelRest> {
        self.car.rests.iter().filter(move |r| r.volume == volume)
    }

    fn parks(&self, volume: usize) -> impl Iterator<Item = &ParkEstimate> {
        self.fit.rests.iter().filter(move |r| r.volume == volume)
    }

    /// Mean flow over all rests of a volume for a conductance of 1, by time.
    fn flow_factor(&self, volume: usize) -> f64 {
        let seconds: f64 = self.parks(volume).map(|r| r.duration_s).sum();
        let flow: f64 = self
            .parks(volume)
            .map(|r| r.duration_s * r.flow_factor)
            .sum();
        if seconds > 0.0 { flow / seconds } else { 1.0 }
    }

    /// A conductance at a volume as mean loss, ANR L/s.
    pub(super) fn mean_loss(
        &self,
        volume: usize,
        conductance: f64,
        standard_error: f64,
    ) -> Estimate {
        Estimate {
            value: conductance,
            se: standard_error,
            degrees_of_freedom: KNOWN,
        }
        .scaled(self.flow_factor(volume) / CM3_MIN_PER_L_S)
    }

    pub(super) fn volume(&self, v: &VolumeEstimate) -> VolumeAtRest {
        let to_l_per_s = self.flow_factor(v.volume) / CM3_MIN_PER_L_S;
        let upper_l_per_s = v.upper_bound.max(0.0) * to_l_per_s;
        let tolerable_l_per_s = self.tolerable_l_per_s(v);
        let verdict = if self.is_touched(v) {
            VolumeVerdict::Fault
        } else if let Some(missing) = self.missing(v.volume) {
            VolumeVerdict::LowerBound(missing)
        } else if upper_l_per_s < tolerable_l_per_s && v.odd_losing_rests.is_empty() {
            VolumeVerdict::Fine
        } else {
            VolumeVerdict::NotEnoughEvidence
        };
        let limit = |is: &dyn Fn(Hypothesis) -> bool| {
            let own = self.fit.hypotheses.iter();
            own.filter(|h| h.hypothesis.volume() == v.volume && is(h.hypothesis))
                .filter_map(|h| h.detection_limit)
                .reduce(f64::min)
                .map(|limit| limit * to_l_per_s)
        };
        let (night_cooling_k, night_cooling_mm) = self.night_cooling(v.volume);
        VolumeAtRest {
            place: self.place(v.volume),
            verdict,
            loss: self.pooled_leak(v),
            upper_l_per_s,
            tolerable_l_per_s,
            limit_l_per_s: limit(&|h| matches!(h, Hypothesis::Leak { .. })),
            conditional_limits_l_per_s: (
                limit(&|h| matches!(h, Hypothesis::Cold { .. })),
                limit(&|h| matches!(h, Hypothesis::AfterDump { .. })),
            ),
            flow_factor: self.flow_factor(v.volume),
            thermometer: self.car.volumes[v.volume].thermometer.clone(),
            law: self.law(v),
            proving: self.proving(v.volume),
            night_cooling_k,
            night_cooling_mm,
            by_hand: self.car.volumes[v.volume].by_hand,
        }
    }

    /// Whether a named hypothesis moves air into or out of the volume, to this day.
    fn is_touched(&self, v: &VolumeEstimate) -> bool {
        let mut named = self.fit.named();
        let is_over = |h: Hypothesis| matches!(h, Hypothesis::Until { .. });
        named.any(|h| h.hypothesis.touches(v.volume, self.car) && !is_over(h.hypothesis))
            || v.two_states.as_ref().is_some_and(|t| t.named)
    }

    /// The loss of a volume in every unit.
    fn pooled_leak(&self, v: &VolumeEstimate) -> PooledLeak {
        let loss = self.loss(v);
        let per_s = loss.scaled(v.reference_anr_l.recip());
        let kpa_per_h = per_s.scaled(3600.0 * v.reference_kpa_abs);
        PooledLeak {
            place: self.place(v.volume),
            loss_l_per_s: loss,
            between_sd_l_per_s: v.spread * self.flow_factor(v.volume) / CM3_MIN_PER_L_S,
            kpa_per_h,
            mm_per_h: self.anr_l_per_mm(v.volume).map(|l| loss.scaled(3600.0 / l)),
            per_s,
            // The flow of a choked hole at the usual pressure, over that pressure.
            equivalent_conductance: loss
                .scaled(100.0 / self.flow_factor(v.volume) / v.reference_kpa_abs),
            rests: self.rests(v.volume).count(),
            seconds: self.parks(v.volume).map(|r| r.duration_s).sum(),
            lower_bound: self.missing(v.volume).is_some(),
        }
    }

    /// Air by which a volume grows per millimetre, ANR L, mean over its rests.
    fn anr_l_per_mm(&self, volume: usize) -> Option<f64> {
        if !self.car.volumes[volume].has_height {
            return None;
        }
        let slopes = self.rests(volume).filter_map(|r| {
            let slope = r.slope_l_per_mm.first().filter(|s| **s > 0.0)?;
            Some(amount_anr_l(
                *r.kpa_abs.first()?,
                *slope,
                *r.kelvin.first()?,
            ))
        });
        let (sum, count) = slopes.fold((0.0, 0_u32), |(s, n), x| (s + x, n + 1));
        (count > 0).then(|| sum / f64::from(count))
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
        let seconds: f64 = self.parks(v.volume).map(|r| r.duration_s).sum();
        let share = |r: &ParkEstimate| r.duration_s * r.flow_factor / seconds / CM3_MIN_PER_L_S;
        let value = self.parks(v.volume).map(|r| share(r) * r.conductance).sum();
        let squares = self
            .parks(v.volume)
            .map(|r| (share(r) * r.model_standard_error).powi(2));
        let scatter = squares.sum::<f64>().sqrt();
        Estimate {
            value,
            se: scatter.hypot(pooled.se),
            degrees_of_freedom: KNOWN,
        }
    }

    /// A leak that began or ended once does not: what it is now counts.
    fn comes_and_goes(&self, v: &VolumeEstimate) -> bool {
        let by_condition = self
            .fit
            .named()
            .map(|h| h.hypothesis)
            .any(|h| h.is_conditional() && h.date().is_none() && h.volume() == v.volume);
        by_condition || v.two_states.as_ref().is_some_and(|t| t.named)
    }

    pub(super) fn park(&self, p: &ParkEstimate) -> ParkAtRest {
        // All that leaves the volume: also what a valve or a cross leak passes on.
        let loss_l_per_s = Estimate {
            value: p.conductance + p.transferred,
            se: p.standard_error.hypot(TRANSFER_ERROR * p.transferred),
            degrees_of_freedom: KNOWN,
        }
        .scaled(p.flow_factor / CM3_MIN_PER_L_S);
        let own = || {
            p.rests
                .iter()
                .flat_map(|i| self.car.rests[*i].kelvin.iter())
        };
        let kelvin_range =
            own().fold(f64::MIN, |m, k| m.max(*k)) - own().fold(f64::MAX, |m, k| m.min(*k));
        ParkAtRest {
            place: self.place(p.volume),
            t_s: (p.start_s, p.end_s),
            seconds: p.duration_s,
            loss_l_per_s,
            flow_factor: p.flow_factor,
            longest_silence_s: p.longest_silence_s,
            is_lower_bound: self.missing(p.volume).is_some(),
            thermometer: self.car.volumes[p.volume].thermometer.clone(),
            kelvin_range,
            by_hand: self.car.volumes[p.volume].by_hand,
        }
    }

    /// The air down to the lowest height that is good enough in a night; where the
    /// rig gives none, or the car already stands below it, a share of the air.
    fn tolerable_l_per_s(&self, v: &VolumeEstimate) -> f64 {
        let night_s = NIGHT_H * 3600.0;
        let share = TOLERABLE_SHARE * v.reference_anr_l / night_s;
        let last = self.rests(v.volume).last();
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

    /// Rests that show a loss by themselves, and all of them.
    fn proving(&self, volume: usize) -> (usize, usize) {
        let shows = |p: &&ParkEstimate| p.interval_95().0 > 0.0;
        (
            self.parks(volume).filter(shows).count(),
            self.parks(volume).count(),
        )
    }

    /// The law on which all rests that can tell agree.
    fn law(&self, v: &VolumeEstimate) -> SeenLaw {
        let place = &self.car.volumes[v.volume].name;
        let decided = || {
            self.single.iter().filter(|f| {
                f.place == *place && f.bend.tells_the_law() && f.per_s.interval_95().0 > 0.0
            })
        };
        let laminar = decided().filter(|f| f.bend.closer == Closer::Seep).count();
        let critical_kpa_abs = self.digest.ambient_kpa_abs / CRITICAL_RATIO;
        match (laminar, decided().count() - laminar) {
            (1.., 0) => SeenLaw::Laminar,
            (0, 1..) if v.reference_kpa_abs > critical_kpa_abs => SeenLaw::Choked,
            (0, 1..) => SeenLaw::SubCritical,
            _ => SeenLaw::CannotTell,
        }
    }

    /// Usual cooling of a night, K, and the fall of height by it, mm: at the pressure
    /// of its load the volume follows the temperature, `ΔV = V·ΔT/T`.
    fn night_cooling(&self, volume: usize) -> (Option<f64>, Option<f64>) {
        let nights = || {
            self.rests(volume)
                .filter(|r| r.end_s - r.start_s >= NIGHT_REST_S)
        };
        let fall = |r: &ModelRest| {
            let lowest = r.kelvin.iter().fold(f64::INFINITY, |m, k| m.min(*k));
            r.kelvin[0] - lowest
        };
        let kelvin: Vec<f64> = nights().map(fall).collect();
        let mm: Vec<f64> = nights()
            .filter_map(|r| {
                let slope = r.slope_l_per_mm.first().filter(|s| **s > 0.0)?;
                Some(r.volume_l[0] * fall(r) / r.kelvin[0] / slope)
            })
            .collect();
        let has_height = self.car.volumes[volume].has_height;
        (median(&kelvin), median(&mm).filter(|_| has_height))
    }

    /// Nights without power whose fall no corner shows, and all of them.
    pub(super) fn unread_nights(&self) -> (usize, usize) {
        let all = &self.digest.long_silences_s;
        let is_read = |(from, to): &(f64, f64)| {
            let mut parks = self.fit.rests.iter();
            parks.any(|p| {
                !self.car.volumes[p.volume].is_tank
                    && p.start_s < *to
                    && p.end_s > *from
                    && p.longest_silence_s >= 0.9 * (to - from)
            })
        };
        (all.iter().filter(|s| !is_read(s)).count(), all.len())
    }
}
