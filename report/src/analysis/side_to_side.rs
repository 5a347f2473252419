//! Air that crosses between the two springs of a pair on one circuit.
//!
//! Both springs have one pressure, so that nothing but the axle's own springs resists
//! leaning: in a bend the outer one sinks, and its air passes to the inner one. Heights
//! then mirror each other while their sum stays.

use super::air::Vessel;
use super::segment::Busy;
use super::stats::{mean, median};
use seep_common::physics::gas::{ANR_K, amount_anr_l};
use serde::{Deserialize, Serialize};

/// Readings of one session.
#[derive(Debug, Clone, Copy)]
pub struct SidesView<'a> {
    /// Log time of each row, ms.
    pub t_ms: &'a [i64],
    /// Height left, mm; `NaN` where none was read.
    pub left_mm: &'a [f32],
    /// The same right.
    pub right_mm: &'a [f32],
    /// Pressure of the circuit, kPa absolute, in the rows that have it.
    pub kpa_abs: &'a [f32],
    /// When the car drives; `None` where no speed is recorded: at all times.
    pub driving: Option<&'a Busy>,
    /// When the circuit's valves are open.
    pub valves: &'a Busy,
}

/// What the heights of a pair did while the valves were shut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SideToSide {
    /// The circuit.
    pub place: String,
    /// Time that was looked at, s.
    pub seconds: f64,
    /// (left − right)/2 about its middle: 19 of 20 readings lie within this, mm.
    pub mirrored_mm: f64,
    /// (left + right)/2 about its middle: the same, mm.
    pub together_mm: f64,
    /// Concordance of the sides' movements: 1 alike, −1 mirrored.
    pub concordance: f64,
    /// Air that passes from one side to the other with `mirrored_mm`, ANR L; `None` without
    /// the volume by height or the pressure.
    pub crossing_l: Option<f64>,
}

impl SideToSide {
    /// True where the sides mirror each other by more than the tolerance of heights.
    ///
    /// **Units**: mm.
    #[must_use]
    pub fn is_mirrored(&self, tolerance_mm: f64) -> bool {
        self.concordance < MIRRORED_BELOW && self.mirrored_mm > tolerance_mm
    }
}

/// Three quarters of the movement are mirrored: `(1 − 3)/(1 + 3)`.
const MIRRORED_BELOW: f64 = -0.5;

/// Middles are those of so long a stretch, ms: longer than a bend, shorter than what load and
/// controller do. Common practice, no source.
const STRETCH_MS: i64 = 120_000;

/// A stretch has at least so many readings of both sides.
const LEAST_READINGS: usize = 20;

/// The air of a move comes to rest within this time, ms.
const SETTLES_MS: i64 = 10_000;

/// Deviations by their size, mm: one bin each half millimetre.
const BIN_MM: f64 = 0.5;
const BINS: usize = 400;

/// Collects stretch by stretch.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct SideCollector {
    place: String,
    mirrored: Deviations,
    together: Deviations,
    seconds: f64,
    mm: Vec<f64>,
    kpa_abs: Vec<f64>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
struct Deviations {
    squares: f64,
    sizes: Vec<u64>,
}

impl Deviations {
    fn new() -> Self {
        Deviations {
            squares: 0.0,
            sizes: vec![0; BINS],
        }
    }

    fn add(&mut self, values: &[f64]) {
        let Some(middle) = median(values) else { return };
        for value in values {
            let off = (value - middle).abs();
            self.squares += off * off;
            self.sizes[((off / BIN_MM) as usize).min(BINS - 1)] += 1;
        }
    }

    /// Upper end of the bin that the 95th percentile lies in, mm.
    fn within_mm(&self) -> f64 {
        let all: u64 = self.sizes.iter().sum();
        let mut sum = 0;
        let bin = self.sizes.iter().position(|n| {
            sum += n;
            sum as f64 >= 0.95 * all as f64
        });
        BIN_MM * (bin.unwrap_or(0) + 1) as f64
    }
}

impl SideCollector {
    /// Nothing of a circuit yet.
    pub(crate) fn new(place: &str) -> Self {
        SideCollector {
            place: place.into(),
            mirrored: Deviations::new(),
            together: Deviations::new(),
            seconds: 0.0,
            mm: Vec::new(),
            kpa_abs: Vec::new(),
        }
    }

    /// Adds a session, cut into stretches with shut valves.
    pub(crate) fn push(&mut self, view: &SidesView) {
        let mut from = 0;
        while from < view.t_ms.len() {
            let end_ms = view.t_ms[from] + STRETCH_MS;
            let to = from + view.t_ms[from..].partition_point(|t| *t < end_ms);
            self.stretch(view, from, to);
            from = to;
        }
    }

    fn stretch(&mut self, view: &SidesView, from: usize, to: usize) {
        let (from_ms, to_ms) = (view.t_ms[from], view.t_ms[to - 1]);
        let opened = |s: &&(i64, i64)| s.0 <= to_ms && s.1 + SETTLES_MS >= from_ms;
        if view.valves.spans().iter().any(|s| opened(&s)) {
            return;
        }
        let counts = |i: &usize| {
            let seen = !view.left_mm[*i].is_nan() && !view.right_mm[*i].is_nan();
            seen && view
                .driving
                .is_none_or(|d| d.covers(view.t_ms[*i], view.t_ms[*i]))
        };
        let rows: Vec<usize> = (from..to).filter(counts).collect();
        if rows.len() < LEAST_READINGS {
            return;
        }
        let half = |sign: f64| -> Vec<f64> {
            let of = |i: &usize| {
                (f64::from(view.left_mm[*i]) + sign * f64::from(view.right_mm[*i])) / 2.0
            };
            rows.iter().map(of).collect()
        };
        let together = half(1.0);
        self.mm.extend(mean(&together));
        self.together.add(&together);
        self.mirrored.add(&half(-1.0));
        let kpa = rows.iter().filter_map(|i| view.kpa_abs.get(*i));
        let kpa: Vec<f64> = kpa.filter(|v| !v.is_nan()).map(|v| f64::from(*v)).collect();
        self.kpa_abs.extend(mean(&kpa));
        let first_last = rows.first().zip(rows.last());
        self.seconds += first_last.map_or(0.0, |(a, b)| {
            (view.t_ms[*b] - view.t_ms[*a]) as f64 / 1000.0
        });
    }

    /// What was found; `None` without a stretch.
    ///
    /// Concordance: `(Var(sum) − Var(difference))/(Var(sum) + Var(difference))`, which is twice
    /// the covariance of the sides over the sum of their variances. Air: half of the pair's
    /// volume is each side's, `ΔN = p·(V(h + d) − V(h − d))/4` at `p` and 20 °C.
    pub(crate) fn finish(&self, vessel: &Vessel) -> Option<SideToSide> {
        let (heave, roll) = (self.together.squares, self.mirrored.squares);
        let mm = mean(&self.mm)?;
        let mirrored_mm = self.mirrored.within_mm();
        let kpa_abs = mean(&self.kpa_abs).filter(|_| vessel.follows_height());
        let litres = vessel.volume_l(mm + mirrored_mm) - vessel.volume_l(mm - mirrored_mm);
        Some(SideToSide {
            place: self.place.clone(),
            seconds: self.seconds,
            mirrored_mm,
            together_mm: self.together.within_mm(),
            concordance: if heave + roll > 0.0 {
                (heave - roll) / (heave + roll)
            } else {
                0.0
            },
            crossing_l: kpa_abs.map(|kpa| amount_anr_l(kpa, litres / 4.0, ANR_K)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::rig::VolumeModel;

    /// Half an hour of readings each half second: bends of ±10 mm with a period of 20 s, of
    /// which the right side has `right` times as much. Invented.
    fn found(right: f32, valves: &Busy) -> Option<SideToSide> {
        let t_ms: Vec<i64> = (0..3_600).map(|i| i * 500).collect();
        let bend = |t: &i64| 10.0 * (*t as f32 * std::f32::consts::TAU / 20_000.0).sin();
        let left: Vec<f32> = t_ms.iter().map(|t| 3.0 + bend(t)).collect();
        let other: Vec<f32> = t_ms.iter().map(|t| -3.0 + right * bend(t)).collect();
        let mut collector = SideCollector::new("front");
        collector.push(&SidesView {
            t_ms: &t_ms,
            left_mm: &left,
            right_mm: &other,
            kpa_abs: &vec![600.0; t_ms.len()],
            driving: None,
            valves,
        });
        collector.finish(&Vessel {
            place: "front".into(),
            volume: VolumeModel::Area {
                volume_at_zero_height_l: 5.0,
                effective_area_cm2: 200.0,
            },
            line_l: 0.0,
            volume_uncertainty: 0.05,
            lower_stop_mm: None,
            lowest_ok_mm: None,
            lowest_ok_kpa_gauge: None,
        })
    }

    #[test]
    fn mirrored_sides_pass_their_air_to_each_other() {
        let pair = found(-1.0, Busy::never()).expect("seen");
        assert!(pair.is_mirrored(3.0), "{pair:?}");
        // The 95th percentile of a sine of 10 mm is 9.97; the bin ends at 10.
        assert_eq!((pair.mirrored_mm, pair.together_mm), (10.0, BIN_MM));
        assert!(pair.concordance < -0.999, "{pair:?}");
        // Each side has 0.01 L/mm: 0.1 L at 600 kPa are 0.6 ANR L.
        let litres = pair.crossing_l.expect("a volume");
        assert!((litres - 0.6).abs() < 1e-9, "{litres}");
    }

    #[test]
    fn sides_that_rise_together_are_not_mirrored() {
        let pair = found(1.0, Busy::never()).expect("seen");
        assert!(
            !pair.is_mirrored(3.0) && pair.concordance > 0.999,
            "{pair:?}"
        );
        let one_sided = found(0.0, Busy::never()).expect("seen");
        assert!(!one_sided.is_mirrored(3.0), "{one_sided:?}");
        assert!(one_sided.concordance.abs() < 1e-6, "{one_sided:?}");
    }

    #[test]
    fn nothing_is_told_while_valves_are_open() {
        assert_eq!(found(-1.0, &Busy::new([(0, 1_800_000)])), None);
    }
}
