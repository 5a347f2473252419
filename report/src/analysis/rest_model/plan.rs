//! What is fixed before any column is built: references, floors, hypotheses, parks.

use std::collections::BTreeMap;

use seep_common::physics::flow::FlowPath;

use super::day_range::half_range_k;
use super::hypothesis::Hypothesis;
use super::input::{Car, ModelRest, Thermometer};
use super::settings::Settings;
use super::sun::clock_to_sun_s;

const TWELVE_HOURS_MIN: f64 = 720.0;
const DAY_S: f64 = 86_400.0;

/// Quantiles of temperature and height at which a conditional leak may open.
///
/// **Source**: judgement.
const CONDITION_QUANTILES: [f64; 3] = [0.25, 0.45, 0.65];
/// Span of temperature (K) or height (mm) that a condition needs to be told apart.
const CONDITION_SPAN: f64 = 6.0;

/// A clear day and an overcast one: the range of a day differs from the usual one by
/// this share of it, one standard deviation. Common practice, no source (a range of 10 K
/// that varies by 4 K).
const CLEAR_OR_OVERCAST_SHARE: f64 = 0.4;
/// Bounds of half of that difference, K: of a usual range of 10 K, and the most that
/// weather does within a park.
const CLEAR_OR_OVERCAST_K: (f64, f64) = (2.0, 6.0);

/// References and floor of one volume.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reference {
    /// Usual pressure at the start of a rest, bar absolute, at least 1.5.
    pub(super) bar_abs: f64,
    /// Usual amount of air, L ANR.
    pub(super) anr_l: f64,
    /// Conductance worth naming, cm³/min ANR.
    pub(super) floor: f64,
}

/// Fixed frame of the model of one car.
pub(super) struct Plan<'a> {
    pub(super) car: &'a Car,
    pub(super) settings: &'a Settings,
    /// Leak of unit conductance.
    pub(super) flow: FlowPath,
    /// By volume; `None` without rests.
    pub(super) references: Vec<Option<Reference>>,
    pub(super) hypotheses: Vec<Hypothesis>,
    /// First and last reading of each park.
    pub(super) parks: BTreeMap<usize, (f64, f64)>,
    pub(super) from_s: f64,
    pub(super) span_s: f64,
    /// Seconds from log time to solar time.
    pub(super) sun_shift_s: f64,
    /// By how much half of a day's range differs from the usual one, K, one standard
    /// deviation, where no thermometer is recorded.
    pub(super) clear_or_overcast_k: f64,
}

impl<'a> Plan<'a> {
    /// Lays out the model. `None` without a rest of at least four means, or with a
    /// critical ratio outside 0..1.
    pub(super) fn new(car: &'a Car, settings: &'a Settings) -> Option<Self> {
        let flow = FlowPath::new(1.0, settings.critical_ratio).ok()?;
        let mut parks: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
        for rest in &car.rests {
            let span = parks.entry(rest.park).or_insert((rest.start_s, rest.end_s));
            *span = (span.0.min(rest.start_s), span.1.max(rest.end_s));
        }
        let from_s = parks.values().map(|p| p.0).reduce(f64::min)?;
        let to_s = parks.values().map(|p| p.1).reduce(f64::max)?;
        let references = (0..car.volumes.len())
            .map(|v| reference(car, v, settings))
            .collect();
        let mut plan = Self {
            car,
            settings,
            flow,
            references,
            hypotheses: Vec::new(),
            parks,
            from_s,
            span_s: (to_s - from_s).max(1.0),
            sun_shift_s: clock_to_sun_s(&car.outside_c),
            clear_or_overcast_k: (CLEAR_OR_OVERCAST_SHARE * half_range_k(car).unwrap_or(0.0))
                .clamp(CLEAR_OR_OVERCAST_K.0, CLEAR_OR_OVERCAST_K.1),
        };
        plan.hypotheses = plan.all_hypotheses();
        Some(plan)
    }

    /// Returns the plan with more hypotheses, which come last.
    pub(super) fn and(mut self, more: impl IntoIterator<Item = Hypothesis>) -> Self {
        self.hypotheses.extend(more);
        self
    }

    /// Returns the volumes that have at least one rest.
    pub(super) fn live(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.car.volumes.len()).filter(|v| self.references[*v].is_some())
    }

    /// Returns the reference of a volume; of a volume without rests a neutral one.
    pub(super) fn reference(&self, volume: usize) -> Reference {
        self.references[volume].clone().unwrap_or(Reference {
            bar_abs: 1.5,
            anr_l: 1.0,
            floor: f64::INFINITY,
        })
    }

    /// Returns the conductance from which a hypothesis is worth naming.
    pub(super) fn floor(&self, hypothesis: Hypothesis) -> f64 {
        let floor = self.reference(hypothesis.volume()).floor;
        match hypothesis {
            Hypothesis::CrossLeak { partner, .. } => floor.min(self.reference(partner).floor),
            _ => floor,
        }
    }

    /// Natural permeation of a volume, one standard deviation.
    pub(super) fn seep(&self, volume: usize) -> f64 {
        self.settings.permeation_floors * self.reference(volume).floor
    }

    /// Returns the largest floor of the car, the scale of a broad prior.
    pub(super) fn largest_floor(&self) -> f64 {
        self.references
            .iter()
            .flatten()
            .fold(0.0, |m, r| m.max(r.floor))
    }

    fn all_hypotheses(&self) -> Vec<Hypothesis> {
        let live: Vec<usize> = self.live().collect();
        let volumes = &self.car.volumes;
        let tank_lives = live.iter().any(|v| volumes[*v].is_tank);
        let mut all: Vec<_> = live
            .iter()
            .map(|v| Hypothesis::Leak { volume: *v })
            .collect();
        for &volume in &live {
            if tank_lives && !volumes[volume].is_tank && volumes[volume].fed_by_tank {
                all.push(Hypothesis::FillValve { volume });
            }
        }
        for (i, &volume) in live.iter().enumerate() {
            for &partner in &live[i + 1..] {
                let axle = &volumes[volume].axle;
                if axle.is_some() && *axle == volumes[partner].axle {
                    all.push(Hypothesis::CrossLeak { volume, partner });
                }
            }
        }
        for &volume in &live {
            all.extend(self.conditions(volume));
        }
        all
    }

    fn conditions(&self, volume: usize) -> Vec<Hypothesis> {
        let rests: Vec<&ModelRest> = self.rests_of(volume).collect();
        let mut found = Vec::new();
        if rests.len() >= 6 && self.car.volumes[volume].thermometer != Thermometer::None {
            let levels = condition_levels(rests.iter().flat_map(|r| r.kelvin.iter()));
            for (level, kelvin) in levels.into_iter().enumerate() {
                let below_c = kelvin - 273.15;
                found.push(Hypothesis::Cold {
                    volume,
                    level,
                    below_c,
                });
            }
        }
        if rests.len() >= 6 && self.car.volumes[volume].has_height {
            let levels = condition_levels(rests.iter().flat_map(|r| r.height_mm.iter()));
            for (level, below_mm) in levels.into_iter().enumerate() {
                found.push(Hypothesis::Low {
                    volume,
                    level,
                    below_mm,
                });
            }
        }
        let signs: Vec<f64> = rests
            .iter()
            .filter_map(|r| r.last_move)
            .map(|m| m.sign)
            .collect();
        let dumps = signs.iter().filter(|s| **s < 0.0).count();
        if !self.car.volumes[volume].is_tank && dumps >= 3 && signs.len() - dumps >= 3 {
            found.push(Hypothesis::AfterDump { volume });
        }
        if self.span_s > 5.0 * DAY_S && rests.len() >= 8 {
            found.push(Hypothesis::Growing { volume });
        }
        found
    }

    /// Returns the rests of one volume.
    pub(super) fn rests_of(&self, volume: usize) -> impl Iterator<Item = &'a ModelRest> + '_ {
        self.car.rests.iter().filter(move |r| r.volume == volume)
    }
}

fn reference(car: &Car, volume: usize, settings: &Settings) -> Option<Reference> {
    let rests = || car.rests.iter().filter(move |r| r.volume == volume);
    let bar_abs = median(rests().map(|r| r.kpa_abs[0] / 100.0).collect())?;
    let anr_l = median(
        rests()
            .map(|r| r.kpa_abs[0] / 100.0 * r.volume_l[0] * 293.15 / r.kelvin[0])
            .collect(),
    )?;
    let share = if car.volumes[volume].is_tank {
        settings.tank_floor_share
    } else {
        settings.corner_floor_share
    };
    Some(Reference {
        bar_abs: bar_abs.max(1.5),
        anr_l,
        floor: share * anr_l * 1000.0 / TWELVE_HOURS_MIN,
    })
}

/// Limits of a condition at the quantiles, or none where the values span too little.
fn condition_levels<'a>(values: impl Iterator<Item = &'a f64>) -> Vec<f64> {
    let mut sorted: Vec<f64> = values.copied().filter(|x| x.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let (Some(low), Some(high)) = (quantile(&sorted, 0.05), quantile(&sorted, 0.95)) else {
        return Vec::new();
    };
    if high - low <= CONDITION_SPAN {
        return Vec::new();
    }
    CONDITION_QUANTILES
        .iter()
        .filter_map(|p| quantile(&sorted, *p))
        .collect()
}

/// Quantile of sorted values by straight lines between order statistics (Hyndman and
/// Fan, type 7).
pub(super) fn quantile(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = p * last as f64;
    let low = place.floor() as usize;
    let high = (low + 1).min(last);
    Some(sorted[low] + (place - low as f64) * (sorted[high] - sorted[low]))
}

/// Median; `None` of nothing.
pub(super) fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    quantile(&values, 0.5)
}
