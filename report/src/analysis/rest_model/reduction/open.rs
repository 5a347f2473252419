//! Readings of a rest that goes on, and the means they become when it ends.

use super::super::OwnMove;
use super::means::{bins, means, weighted};
use super::noise::reading_sd;
use serde::{Deserialize, Serialize};

/// A rest shorter than this is left out, s.
pub(super) const SHORTEST_S: f64 = 1_200.0;

/// Readings needed.
const FEWEST: usize = 8;

/// Readings kept as they are; of more, neighbours are averaged.
const MOST_READINGS: usize = 1 << 16;

/// Neighbours are averaged over at most this share of the time since the start:
/// far less than the shortest mean there.
const THINNED_SHARE: f64 = 1.0 / 800.0;

/// A reading further outside its neighbours than this many standard deviations is a
/// spike. Common practice, no source.
const SPIKE_SD: f64 = 12.0;

/// What is known of a volume when a rest begins.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(super) struct Before {
    /// Number of the park.
    pub(super) park: usize,
    /// Last own move.
    pub(super) last_move: Option<OwnMove>,
    /// When the car was last levelled or driven, s.
    pub(super) levelled_s: Option<f64>,
}

/// Readings of one channel in time order.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
struct OpenSeries {
    t_s: Vec<f64>,
    values: Vec<f64>,
    weights: Vec<f64>,
    /// Noise found before neighbours were averaged.
    sd: Option<f64>,
    longest_silence_s: f64,
}

impl OpenSeries {
    fn push(&mut self, t_s: f64, value: f64, only_near: bool) {
        if let Some(last) = self.t_s.last() {
            self.longest_silence_s = self.longest_silence_s.max(t_s - last);
        }
        self.t_s.push(t_s);
        self.values.push(value);
        self.weights.push(1.0);
        if self.t_s.len() >= MOST_READINGS {
            self.sd = self.sd.or_else(|| self.noise(only_near));
            self.thin();
        }
    }

    fn noise(&self, only_near: bool) -> Option<f64> {
        self.sd
            .or_else(|| reading_sd(&self.t_s, &self.values, only_near))
    }

    /// Averages neighbours, the older the rest the more of them, until a quarter of
    /// the room is free.
    fn thin(&mut self) {
        let start_s = self.t_s.first().copied().unwrap_or(0.0);
        let mut share = THINNED_SHARE / 8.0;
        while self.t_s.len() > MOST_READINGS * 3 / 4 {
            let mut bin = 0;
            let mut since = start_s;
            let bin_of: Vec<usize> = (0..self.t_s.len())
                .map(|i| {
                    if i > 0 && self.t_s[i] - since > share * (self.t_s[i] - start_s) {
                        since = self.t_s[i];
                        bin += 1;
                    }
                    bin
                })
                .collect();
            let (t_s, _) = weighted(bin + 1, &bin_of, &self.t_s, &self.weights, |_| true);
            let (values, weights) =
                weighted(bin + 1, &bin_of, &self.values, &self.weights, |_| true);
            (self.t_s, self.values, self.weights) = (t_s, values, weights);
            share *= 2.0;
        }
    }

    /// Leaves out what lies further outside both of its neighbours than any noise, and
    /// counts it: at rest air only goes one way, and a load that changes stays changed.
    /// Found here and not within a session where its neighbours are parted by a silence.
    fn without_spikes(&self, sd: f64) -> (OpenSeries, u64) {
        let v = &self.values;
        let is_spike = |i: usize| {
            let (before, here, after) = (v[i - 1], v[i], v[i + 1]);
            let outside = (here - before.max(after)).max(before.min(after) - here);
            outside > SPIKE_SD * sd
        };
        let last = v.len().saturating_sub(1);
        let keep = |i: &usize| *i == 0 || *i >= last || !is_spike(*i);
        let kept: Vec<usize> = (0..v.len()).filter(keep).collect();
        let of = |all: &[f64]| kept.iter().map(|i| all[*i]).collect();
        let series = OpenSeries {
            t_s: of(&self.t_s),
            values: of(v),
            weights: of(&self.weights),
            ..*self
        };
        (series, (v.len() - kept.len()) as u64)
    }

    /// Value at a time on the line between readings; the ends hold.
    fn at(&self, t_s: f64) -> f64 {
        let after = self.t_s.partition_point(|t| *t <= t_s);
        match (after.checked_sub(1), self.t_s.get(after)) {
            (None, _) => self.values.first().copied().unwrap_or(f64::NAN),
            (Some(a), None) => self.values[a],
            (Some(a), Some(next)) => {
                let share = (t_s - self.t_s[a]) / (next - self.t_s[a]);
                self.values[a] + share * (self.values[after] - self.values[a])
            }
        }
    }
}

/// A rest of one volume that has not ended.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct OpenRest {
    before: Before,
    pressure: OpenSeries,
    height: OpenSeries,
}

/// A rest as means of its readings, before temperatures and the outside are known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct ReducedRest {
    pub(super) before: Before,
    /// First and last reading, s.
    pub(super) span_s: (f64, f64),
    pub(super) t_s: Vec<f64>,
    /// Pressure as read, gauge or absolute, kPa.
    pub(super) kpa: Vec<f64>,
    /// Readings behind each mean.
    pub(super) readings: Vec<f64>,
    /// Heights, mm, and readings behind them; empty without enough.
    pub(super) mm: Vec<f64>,
    pub(super) mm_readings: Vec<f64>,
    /// Noise of one reading of the pressure, kPa; `None` where too few lie close.
    pub(super) kpa_sd: Option<f64>,
    /// The same of the height, mm.
    pub(super) mm_sd: Option<f64>,
    pub(super) longest_silence_s: f64,
    /// Readings of both left out as spikes.
    pub(super) spikes: u64,
}

/// Real counts of the channels of a volume.
#[derive(Debug, Clone, Copy)]
pub(super) struct Counts {
    pub(super) kpa: f64,
    pub(super) mm: f64,
}

/// Noise of one reading where it cannot be told, kPa. Common practice, no source.
const UNKNOWN_KPA_SD: f64 = 1.0;

/// The same of a height, mm.
const UNKNOWN_MM_SD: f64 = 1.0;

/// The noise of a reading is at least this share of its count: rounding alone makes
/// 1/√12.
const OF_COUNT: f64 = 0.3;

impl Counts {
    /// Noise of one pressure reading, kPa.
    pub(super) fn kpa_sd(&self, rest: &ReducedRest) -> f64 {
        rest.kpa_sd
            .unwrap_or(UNKNOWN_KPA_SD)
            .max(OF_COUNT * self.kpa)
    }

    /// Noise of one height reading, mm.
    pub(super) fn mm_sd(&self, rest: &ReducedRest) -> f64 {
        rest.mm_sd.unwrap_or(UNKNOWN_MM_SD).max(OF_COUNT * self.mm)
    }
}

impl OpenRest {
    pub(super) fn new(before: Before) -> Self {
        OpenRest {
            before,
            pressure: OpenSeries::default(),
            height: OpenSeries::default(),
        }
    }

    pub(super) fn push_pressure(&mut self, t_s: f64, kpa: f64) {
        self.pressure.push(t_s, kpa, true);
    }

    pub(super) fn push_height(&mut self, t_s: f64, mm: f64) {
        self.height.push(t_s, mm, false);
    }

    /// Ends the rest. `None` where it was too short or too little was read.
    pub(super) fn reduce(self, counts: Counts) -> Option<ReducedRest> {
        let p = &self.pressure;
        let span_s = (*p.t_s.first()?, *p.t_s.last()?);
        if p.t_s.len() < FEWEST || span_s.1 - span_s.0 < SHORTEST_S {
            return None;
        }
        let mut out = ReducedRest {
            before: self.before,
            span_s,
            t_s: Vec::new(),
            kpa: Vec::new(),
            readings: Vec::new(),
            mm: Vec::new(),
            mm_readings: Vec::new(),
            kpa_sd: p.noise(true),
            mm_sd: self.height.noise(false),
            longest_silence_s: p.longest_silence_s,
            spikes: 0,
        };
        let (p, spikes) = &p.without_spikes(counts.kpa_sd(&out));
        let (height, spikes_mm) = self.height.without_spikes(counts.mm_sd(&out));
        out.spikes = spikes + spikes_mm;
        let bin_of = bins(&p.t_s);
        let bin_count = bin_of.last().map_or(0, |b| b + 1);
        (out.t_s, _) = weighted(bin_count, &bin_of, &p.t_s, &p.weights, |_| true);
        (out.kpa, out.readings) = means(&bin_of, &p.values, &p.weights, counts.kpa_sd(&out));
        if height.t_s.len() >= FEWEST {
            let at_readings: Vec<f64> = p.t_s.iter().map(|t| height.at(*t)).collect();
            let sd = counts.mm_sd(&out);
            (out.mm, out.mm_readings) = means(&bin_of, &at_readings, &p.weights, sd);
        }
        Some(out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOTHING: Before = Before {
        park: 0,
        last_move: None,
        levelled_s: None,
    };
    const COUNTS: Counts = Counts { kpa: 0.1, mm: 0.1 };

    fn rest(seconds: u32, kpa: impl Fn(f64) -> f64) -> Option<ReducedRest> {
        let mut open = OpenRest::new(NOTHING);
        for t in (0..seconds).map(f64::from) {
            open.push_pressure(t, kpa(t));
        }
        open.reduce(COUNTS)
    }

    #[test]
    fn a_week_at_one_reading_a_second_takes_no_more_room_than_a_night() {
        let week = rest(7 * 86_400, |t| 600.0 * (-t / 2e6).exp()).expect("long");
        assert!((45..80).contains(&week.t_s.len()), "{}", week.t_s.len());
        assert!((week.readings.iter().sum::<f64>() - 604_800.0).abs() < 1e-6);
        for (t, kpa) in week.t_s.iter().zip(&week.kpa) {
            let expected = 600.0 * (-t / 2e6).exp();
            assert!((kpa - expected).abs() < 0.05, "{t} {kpa} {expected}");
        }
        let mut open = OpenRest::new(NOTHING);
        for t in (0..7 * 86_400).map(f64::from) {
            open.push_pressure(t, 600.0);
        }
        assert!(open.pressure.t_s.len() <= MOST_READINGS);
    }

    /// A spike as the last reading before the power goes, and one after it comes.
    #[test]
    fn a_spike_beside_a_silence_is_left_out_and_counted() {
        let mut open = OpenRest::new(NOTHING);
        let times = (0..10).map(|i| 60.0 * f64::from(i));
        let night = times.clone().chain(times.map(|t| 40_000.0 + t));
        for (i, t) in night.enumerate() {
            let kpa = if i == 9 {
                720.0
            } else {
                411.0 - 0.05 * i as f64
            };
            open.push_pressure(t, kpa);
        }
        let rest = open.reduce(COUNTS).expect("long");
        assert_eq!(rest.spikes, 1);
        assert!(rest.kpa.iter().all(|kpa| *kpa < 412.0), "{:?}", rest.kpa);
    }

    /// 60 kPa a minute: steep, but one way.
    #[test]
    fn a_corner_that_empties_has_no_spikes() {
        let rest = rest(1_300, |t| 700.0 * (-t / 600.0).exp()).expect("long");
        assert_eq!(rest.spikes, 0);
    }

    #[test]
    fn short_rests_are_left_out() {
        assert_eq!(rest(1_000, |_| 600.0), None);
        assert!(rest(1_300, |_| 600.0).is_some());
    }
}
