//! What a rest is read against: temperatures, outside pressure, other volumes.

use super::super::input::{CREEP_LAGS_S, ModelRest, Thermometer};
use super::heat::DriveHeat;
use super::lag::Lag;
use super::minutes::{MINUTE_S, Minutes};
use super::open::{Counts, ReducedRest};
use super::plan::ReductionPlan;
use super::silences::mend;
use seep_common::rig::VolumeModel;
use seep_common::units::ICE_POINT_K;

/// Lags of a thermometer, s.
const LAGS_S: [f64; 4] = [300.0, 900.0, 2_700.0, 8_100.0];

/// Decays of the heat of drives, s.
const SOAK_S: [f64; 4] = [900.0, 2_700.0, 7_200.0, 18_000.0];

/// Temperature taken where none is recorded, K.
const ASSUMED_K: f64 = 288.15;

/// A bag below this is empty, kPa gauge …
const EMPTY_KPA: f64 = 12.0;

/// … if it began above this, kPa gauge, …
const NOT_EMPTY_KPA: f64 = 40.0;

/// … and after at least so many means.
const FEWEST_MEANS: usize = 4;

/// No pressure is taken to be less, kPa absolute: nothing on a vehicle is evacuated.
const LEAST_KPA_ABS: f64 = 20.0;

/// Everything collected from a log.
pub(super) struct Reduced {
    pub(super) plan: ReductionPlan,
    pub(super) counts: Vec<Counts>,
    pub(super) minutes: Vec<Minutes>,
    pub(super) readings: Vec<u64>,
    pub(super) rests: Vec<Vec<ReducedRest>>,
    pub(super) drives_min: Vec<(f64, f64)>,
    pub(super) origin_s: f64,
    pub(super) outside_kpa_abs: f64,
    pub(super) spikes: u64,
    pub(super) stuck: u64,
    pub(super) left_out: u64,
}

/// The means of minutes that a rest is read against.
pub(super) struct Surroundings<'a> {
    pub(super) reduced: &'a Reduced,
    pub(super) barometer: Option<&'a Minutes>,
    /// Own thermometer or the nearest, by volume.
    pub(super) nearest: Vec<Option<&'a Minutes>>,
    pub(super) thermometers: Vec<Thermometer>,
    /// Gauge pressure of each bag over its median; empty for the tank.
    pub(super) bags: &'a [Minutes],
    /// Outside and tank, where recorded, by name.
    pub(super) others: Vec<(&'static str, &'a Minutes)>,
}

impl Surroundings<'_> {
    pub(super) fn rests_of(&self, v: usize) -> Vec<ModelRest> {
        let mut walks = Walks::new(self, v);
        let rests = self.reduced.rests[v].iter();
        rests
            .filter_map(|r| self.rest(v, r, &mut walks))
            .filter_map(mend)
            .collect()
    }

    fn outside_at(&self, minutes: f64) -> f64 {
        self.barometer
            .map_or(self.reduced.outside_kpa_abs, |b| b.on_grid(minutes))
    }

    /// Pressures of a volume, kPa absolute, at any time.
    fn kpa_abs_at(&self, v: usize, minutes: f64) -> Option<f64> {
        let plan = &self.reduced.plan.volumes[v];
        let channel = &self.reduced.minutes[plan.pressure];
        let outside = if plan.is_gauge {
            self.outside_at(minutes)
        } else {
            0.0
        };
        (!channel.is_empty()).then(|| (channel.on_grid(minutes) + outside).max(LEAST_KPA_ABS))
    }

    pub(super) fn rest(
        &self,
        v: usize,
        reduced: &ReducedRest,
        walks: &mut Walks,
    ) -> Option<ModelRest> {
        let plan = &self.reduced.plan.volumes[v];
        let counts = self.reduced.counts[v];
        let to_minutes = |t_s: f64| (t_s - self.reduced.origin_s) / MINUTE_S;
        let at: Vec<f64> = reduced.t_s.iter().map(|t| to_minutes(*t)).collect();
        let outside: Vec<f64> = at.iter().map(|m| self.outside_at(*m)).collect();
        let pressure = reduced.kpa.iter().zip(&outside);
        let kpa_abs: Vec<f64> = pressure
            .map(|(p, out)| (p + if plan.is_gauge { *out } else { 0.0 }).max(LEAST_KPA_ABS))
            .collect();
        let n = usable_means(&kpa_abs, &outside)?;
        let (at, outside, kpa_abs) = (&at[..n], &outside[..n], &kpa_abs[..n]);
        let emptied = n < reduced.t_s.len();
        let heights = &reduced.mm[..n.min(reduced.mm.len())];
        let air = Air::of(&plan.model, heights, n)?;
        let (kpa_sd, mm_sd) = (counts.kpa_sd(reduced), counts.mm_sd(reduced));
        let share = |i: usize| air.slope.get(i).map_or(0.0, |s| s / air.volume_l[i]);
        let variance = |i: usize| {
            let of_kpa = kpa_sd * kpa_sd / reduced.readings[i] / (kpa_abs[i] * kpa_abs[i]);
            let readings_mm = reduced.mm_readings.get(i).copied().unwrap_or(1.0);
            of_kpa + (mm_sd * share(i)).powi(2) / readings_mm
        };
        let count = |i: usize| (counts.kpa / kpa_abs[i]).hypot(counts.mm * share(i));
        let (kelvin, lag_k) = self.temperature(v, at, walks);
        let others = self.others.iter().filter(|_| !lag_k.is_empty());
        let name = &plan.volume.name;
        let other_k = others
            .filter(|(other, _)| match &self.thermometers[v] {
                Thermometer::Own => name != other,
                Thermometer::Far(far) => far != other,
                Thermometer::None => false,
            })
            .map(|(other, minutes)| {
                let own = kelvin.iter();
                let apart = at
                    .iter()
                    .zip(own)
                    .map(|(m, k)| minutes.on_grid(*m) + ICE_POINT_K - k);
                ((*other).to_string(), apart.collect())
            })
            .collect();
        let volumes = self.reduced.plan.volumes.len();
        let span_min = (to_minutes(reduced.span_s.0), to_minutes(reduced.span_s.1));
        Some(ModelRest {
            volume: v,
            park: reduced.before.park,
            start_s: reduced.span_s.0,
            end_s: if emptied {
                reduced.t_s[n - 1]
            } else {
                reduced.span_s.1
            },
            t_s: reduced.t_s[..n].to_vec(),
            kpa_abs: kpa_abs.to_vec(),
            outside_kpa_abs: outside.to_vec(),
            gauge: plan.is_gauge,
            height_mm: heights.to_vec(),
            ln_variance: (0..n).map(variance).collect(),
            ln_count: (0..n).map(count).collect(),
            volume_l: air.volume_l,
            slope_l_per_mm: air.slope,
            kelvin,
            noise_per_count: kpa_sd / counts.kpa,
            reading_sd_kpa: kpa_sd,
            lag_k,
            other_k,
            soak: walks
                .soak
                .iter_mut()
                .map(|s| at.iter().map(|m| s.at(*m)).collect())
                .collect(),
            creep: walks
                .creep
                .iter_mut()
                .map(|c| at.iter().map(|m| c.at(*m)).collect())
                .collect(),
            others_kpa_abs: (0..volumes)
                .map(|o| at.iter().map(|m| self.kpa_abs_at(o, *m)).collect())
                .collect(),
            last_move: reduced.before.last_move,
            levelled_s: reduced.before.levelled_s,
            longest_silence_s: reduced.longest_silence_s,
            barometer_silence_s: self
                .barometer
                .map(|b| b.longest_silence_s(span_min.0, span_min.1)),
        })
    }

    /// Temperature, K, and its lags, each minus the faster one.
    fn temperature(&self, v: usize, at: &[f64], walks: &mut Walks) -> (Vec<f64>, Vec<Vec<f64>>) {
        let Some(nearest) = self.nearest[v] else {
            return (vec![ASSUMED_K; at.len()], Vec::new());
        };
        let celsius: Vec<f64> = at.iter().map(|m| nearest.on_grid(*m)).collect();
        let mut faster = celsius.clone();
        let lag_k = walks
            .lags
            .iter_mut()
            .map(|lag| {
                let slower: Vec<f64> = at.iter().map(|m| lag.at(*m)).collect();
                let apart = slower.iter().zip(&faster).map(|(s, f)| s - f).collect();
                faster = slower;
                apart
            })
            .collect();
        (celsius.iter().map(|c| c + ICE_POINT_K).collect(), lag_k)
    }
}

/// Means up to the first below which the bag is empty, that one included; `None`
/// where it was empty from the start.
fn usable_means(kpa_abs: &[f64], outside: &[f64]) -> Option<usize> {
    let gauge = |i: usize| kpa_abs[i] - outside[i];
    let n = kpa_abs.len();
    match (0..n).find(|i| gauge(*i) < EMPTY_KPA) {
        Some(i) if i < FEWEST_MEANS => None,
        Some(i) if gauge(0) > NOT_EMPTY_KPA => Some(i + 1),
        _ => Some(n),
    }
}

/// Volume and its slope at each mean.
struct Air {
    volume_l: Vec<f64>,
    slope: Vec<f64>,
}

impl Air {
    fn of(model: &VolumeModel, heights: &[f64], n: usize) -> Option<Self> {
        if heights.is_empty() {
            return Some(Air {
                volume_l: vec![model.volume_l(0.0)?; n],
                slope: Vec::new(),
            });
        }
        let volume = |h: f64| model.volume_l(h);
        Some(Air {
            volume_l: heights.iter().map(|h| volume(*h)).collect::<Option<_>>()?,
            // Over both sides, since a table bends at its points.
            slope: heights
                .iter()
                .map(|h| Some((volume(h + 1.0)? - volume(h - 1.0)?) / 2.0))
                .collect::<Option<_>>()?,
        })
    }
}

/// Filters of one volume, walked from rest to rest.
pub(super) struct Walks<'a> {
    lags: Vec<Lag<'a>>,
    soak: Vec<DriveHeat<'a>>,
    creep: Vec<Lag<'a>>,
}

impl<'a> Walks<'a> {
    pub(super) fn new(around: &Surroundings<'a>, v: usize) -> Self {
        let nearest = around.nearest[v];
        let drives: &'a [(f64, f64)] = &around.reduced.drives_min;
        let bag = Some(&around.bags[v]).filter(|b| !b.is_empty());
        Walks {
            lags: nearest.map_or(Vec::new(), |m| {
                LAGS_S.iter().map(|tau| Lag::new(m, *tau)).collect()
            }),
            soak: SOAK_S
                .iter()
                .map(|tau| DriveHeat::new(drives, *tau))
                .collect(),
            creep: bag.map_or(Vec::new(), |b| {
                CREEP_LAGS_S.iter().map(|tau| Lag::new(b, *tau)).collect()
            }),
        }
    }
}
