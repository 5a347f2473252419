//! One compressor run.

use super::super::moves::{Direction, Move, Series};
use super::super::segment::{Busy, OnSpan};
use super::super::stats::median;
use super::OutsideSeries;
use super::ending::{RunEnd, SwitchedOff};
use seep_common::physics::gas::{ANR_K, amount_anr_l};
use serde::{Deserialize, Serialize};

/// Tank series over one session.
#[derive(Debug, Clone, Copy)]
pub struct RunView<'a> {
    /// Tank pressure as its sensor reads it, kPa.
    pub tank_kpa: Series<'a>,
    /// That sensor reads against the outside, not absolute.
    pub tank_is_gauge: bool,
    /// Pressure and temperature outside.
    pub outside: OutsideSeries<'a>,
    /// Tank temperature, K; empty when not recorded.
    pub kelvin: Series<'a>,
    /// Supply voltage, V; empty when not recorded.
    pub supply_v: Series<'a>,
    /// Tank volume, L; `None` when the rig gives none: no amount is then known.
    pub tank_l: Option<f64>,
    /// When any fill valve was open.
    pub fills: &'a Busy,
    /// When any other compressor ran.
    pub others: &'a Busy,
    /// When the supply was taken from the compressor: the end of the session, the
    /// ignition.
    pub switched_off: &'a SwitchedOff<'a>,
}

/// What one complete run did.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// Start, log time ms.
    pub from_ms: i64,
    /// End, log time ms.
    pub to_ms: i64,
    /// Tank pressure at start and end, kPa absolute, with the outside pressure of
    /// these moments.
    pub kpa_abs: (f64, f64),
    /// The same against the outside, kPa gauge; `None` where an absolute sensor has
    /// no barometer beside it.
    pub kpa_gauge: Option<(f64, f64)>,
    /// Outside pressure, kPa absolute.
    pub outside_kpa_abs: f64,
    /// That pressure was read by a barometer.
    pub barometer: bool,
    /// Outside temperature, K; `None` where not recorded.
    pub outside_k: Option<f64>,
    /// What ended the run, as far as the log shows.
    pub ended_by: RunEnd,
    /// Rise of the amount of air in the tank, ANR L; `None` without a tank volume.
    pub gain_anr_l: Option<f64>,
    /// The same until the heat of the run has gone; `None` where something drew
    /// from the tank before.
    pub cooled_gain_anr_l: Option<f64>,
    /// A fill valve was open meanwhile.
    pub filling: bool,
    /// No other compressor ran meanwhile: all that the tank gained is its own.
    pub alone: bool,
    /// Delivery into the tank, ANR L/min: mean over the run. `None` when a fill
    /// valve was open or another compressor ran meanwhile or soon after (see
    /// [`with_fills`]), or without a tank volume.
    pub anr_l_per_min: Option<f64>,
    /// Mean supply voltage, V.
    pub supply_v: Option<f64>,
}

impl RunView<'_> {
    /// What makes a tank reading of a moment absolute, kPa.
    fn to_absolute(self, t_ms: i64) -> f64 {
        if self.tank_is_gauge {
            self.outside.kpa_abs(t_ms)
        } else {
            0.0
        }
    }

    fn ended_by(&self, stop_ms: i64) -> RunEnd {
        let stop = (stop_ms - FILL_REACH_MS, stop_ms + FILL_REACH_MS);
        let fill = |f: &(i64, i64)| f.0 < stop.1 && f.1 > stop.0;
        if self.fills.spans().iter().any(fill) {
            RunEnd::Fill
        } else {
            self.switched_off.ended(stop_ms, self.supply_v)
        }
    }
}

impl Run {
    /// Mean tank pressure against the outside, kPa: what the compressor pressed against.
    #[must_use]
    pub fn back_pressure_kpa(&self) -> f64 {
        f64::midpoint(self.kpa_abs.0, self.kpa_abs.1) - self.outside_kpa_abs
    }

    /// Length, s.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        (self.to_ms - self.from_ms) as f64 / 1000.0
    }
}

/// A fill valve that moves this near to the stop of a run may have ended it, ms: two
/// words of a slow bus.
const FILL_REACH_MS: i64 = 3_000;

/// A run shorter than this says nothing about delivery, s.
const SHORTEST_S: f64 = 10.0;

/// Before a run the tank stands still, and where nothing moves readings may be
/// this far apart, ms.
const STILL_MS: i64 = 60_000;

/// What a compressor brings is hot: during the run and for some minutes after
/// the air in the tank is warmer than its shell and the pressure higher than
/// the amount. The amount is taken when it has cooled, ms after the run; common
/// practice, no source.
const COOLED_MS: (i64, i64) = (120_000, 420_000);

/// Least part of that stretch that must be quiet, ms.
const LEAST_QUIET_MS: i64 = 60_000;

/// Readings of the tank's temperature no further apart are joined, ms.
const JOIN_KELVIN_MS: i64 = 1_800_000;

/// Measure a run. `None` when start or end was not seen or the tank was silent.
///
/// Delivery is the rise of the amount of air in the tank over the length of
/// the run, by the tank's own temperature where it is recorded, from just
/// before the run until its heat has gone.
#[must_use]
pub fn measure_run(view: &RunView, span: &OnSpan) -> Option<Run> {
    if !(span.start_seen && span.end_seen) {
        return None;
    }
    let read = (
        at_start(view.tank_kpa, span.from_ms)?,
        at_stop(view.tank_kpa, span.to_ms)?,
    );
    let (start, end) = (
        read.0 + view.to_absolute(span.from_ms),
        read.1 + view.to_absolute(span.to_ms),
    );
    let barometer = view.outside.barometer_kpa_abs(span.from_ms).is_some();
    let gauge = |kpa: f64, t_ms: i64| {
        if view.tank_is_gauge {
            kpa
        } else {
            kpa - view.outside.kpa_abs(t_ms)
        }
    };
    let gain_anr_l = view.tank_l.map(|litres| {
        amount_anr_l(end, litres, kelvin(view, span.to_ms))
            - amount_anr_l(start, litres, kelvin(view, span.from_ms))
    });
    let cooled_gain_anr_l = cooled_gain_anr_l(view, span, start);
    let filling = overlaps(view.fills, span);
    let alone = !overlaps(view.others, span);
    Some(Run {
        from_ms: span.from_ms,
        to_ms: span.to_ms,
        kpa_abs: (start, end),
        kpa_gauge: (view.tank_is_gauge || barometer)
            .then(|| (gauge(read.0, span.from_ms), gauge(read.1, span.to_ms))),
        outside_kpa_abs: view.outside.kpa_abs(span.from_ms),
        barometer,
        outside_k: view.outside.kelvin(span.from_ms),
        ended_by: view.ended_by(span.to_ms),
        gain_anr_l,
        cooled_gain_anr_l,
        filling,
        alone,
        anr_l_per_min: (span.seconds() >= SHORTEST_S && alone && !filling)
            .then_some(cooled_gain_anr_l)
            .flatten()
            .map(|litres| litres / span.seconds() * 60.0),
        supply_v: view.supply_v.mean(span.from_ms, span.to_ms).map(|m| m.mean),
    })
}

fn overlaps(busy: &Busy, span: &OnSpan) -> bool {
    let mut spans = busy.spans().iter();
    spans.any(|o| o.0 < span.to_ms && o.1 > span.from_ms)
}

/// A fill of a corner whose height is not known took more than its pressure
/// tells: of a run whose fills took more than this share of its gain by that
/// reckoning, nothing is known.
const LEAST_BLIND: f64 = 0.02;

/// The runs with the air that fills took meanwhile added to the tank's gain, so
/// that disturbed ones count too. A fill that reaches beyond the run counts by
/// the share of its time inside. A tank that was drawn from before it had cooled
/// gained by its pressure at the stop, less what cooling takes from the other
/// runs of the same compressor (median). A run none of whose fills could be
/// measured, or without such others, stays without a delivery.
#[must_use]
pub fn with_fills(runs: &[Run], fills: &[Move]) -> Vec<Run> {
    let kept: Vec<f64> = runs
        .iter()
        .filter_map(|r| Some(r.cooled_gain_anr_l? / r.gain_anr_l?))
        .collect();
    let kept = median(&kept);
    let of = |run: &Run| {
        let taken = Taken::of(run, fills);
        let gain_l = run
            .cooled_gain_anr_l
            .or_else(|| Some(kept? * run.gain_anr_l?));
        let seen = run.alone && run.anr_l_per_min.is_none() && run.seconds() >= SHORTEST_S;
        let told = |gain_l: &f64| {
            (!run.filling || taken.fills > 0) && taken.blind_l <= LEAST_BLIND * gain_l
        };
        let whole = |gain_l: f64| (gain_l + taken.anr_l) / run.seconds() * 60.0;
        Run {
            anr_l_per_min: if seen {
                gain_l.filter(told).map(whole)
            } else {
                run.anr_l_per_min
            },
            ..*run
        }
    };
    runs.iter().map(of).collect()
}

/// What fills took during a run.
#[derive(Default)]
struct Taken {
    /// ANR L.
    anr_l: f64,
    /// Of that without a known height.
    blind_l: f64,
    /// Fills measured.
    fills: usize,
}

impl Taken {
    fn of(run: &Run, fills: &[Move]) -> Self {
        let near = |m: &&Move| {
            m.direction == Direction::Fill && m.to_ms > run.from_ms && m.from_ms < run.to_ms
        };
        let mut out = Taken::default();
        for m in fills.iter().filter(near) {
            let inside = m.to_ms.min(run.to_ms) - m.from_ms.max(run.from_ms);
            let share = inside.max(0) as f64 / (m.to_ms - m.from_ms).max(1) as f64;
            out.fills += 1;
            out.anr_l += share * m.amount_anr_l;
            if m.mm.is_none() {
                out.blind_l += share * m.amount_anr_l;
            }
        }
        out
    }
}

/// Rise of the air in the tank from the start of a run until its heat has gone,
/// ANR L.
fn cooled_gain_anr_l(view: &RunView, span: &OnSpan, start_kpa_abs: f64) -> Option<f64> {
    let from = span.to_ms + COOLED_MS.0;
    let disturbances = view.fills.spans().iter().chain(view.others.spans());
    let next = disturbances
        .filter(|f| f.1 > span.to_ms)
        .map(|f| f.0)
        .min()
        .unwrap_or(i64::MAX);
    let to = next.min(span.to_ms + COOLED_MS.1);
    if to - from < LEAST_QUIET_MS {
        return None;
    }
    let middle = i64::midpoint(from, to);
    let cooled = view.tank_kpa.mean(from, to)?.mean + view.to_absolute(middle);
    let litres = view.tank_l?;
    let amount = |kpa: f64, t: i64| amount_anr_l(kpa, litres, kelvin(view, t));
    Some(amount(cooled, middle) - amount(start_kpa_abs, span.from_ms))
}

/// Temperature of the tank at a time, K; the reference where silent.
fn kelvin(view: &RunView, t_ms: i64) -> f64 {
    view.kelvin
        .at(t_ms, JOIN_KELVIN_MS)
        .or_else(|| {
            let near = (t_ms - JOIN_KELVIN_MS / 3, t_ms + JOIN_KELVIN_MS / 3);
            view.kelvin.mean(near.0, near.1).map(|m| m.mean)
        })
        .unwrap_or(ANR_K)
}

/// Readings no further apart than this are joined by a line, ms.
const JOIN_MS: i64 = 15_000;

/// Pressure at the start of a run: on the line between neighbours, or the last
/// reading before, when the tank stood still.
fn at_start(series: Series, t_ms: i64) -> Option<f64> {
    series.at(t_ms, JOIN_MS).or_else(|| {
        let (_, values) = series.window(t_ms - STILL_MS, t_ms);
        values.last().copied()
    })
}

/// Pressure at the stop of a run: on the line between neighbours, or, when the
/// next reading is late and the air has cooled by then, on the line through the
/// last two readings of the run.
fn at_stop(series: Series, t_ms: i64) -> Option<f64> {
    series.at(t_ms, JOIN_MS).or_else(|| {
        let (times, values) = series.window(t_ms - JOIN_MS, t_ms);
        let (i, j) = (times.len().checked_sub(2)?, times.len() - 1);
        let per_ms = (values[j] - values[i]) / (times[j] - times[i]) as f64;
        Some(values[j] + per_ms * (t_ms - times[j]) as f64)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tank of 20 L filled by 10 ANR L in 60 s: hot air first, then the true
    /// 50 kPa more. Invented data.
    #[test]
    fn the_heat_of_the_run_is_no_delivery() {
        let t_ms: Vec<i64> = (0..1_200).map(|s| s * 1000).collect();
        let kpa: Vec<f32> = (0..1_200_i16)
            .map(|s| match s {
                ..300 => 1_000.0,
                300..360 => 1_000.0 + 80.0 * f32::from(s - 300) / 60.0,
                _ => 1_050.0 + 30.0 * (-f32::from(s - 360) / 30.0).exp(),
            })
            .collect();
        let tank = Series::new(&t_ms, &kpa, 0.0);
        let (silent, quiet) = (Series::default(), Busy::default());
        let never = SwitchedOff::default();
        let mut view = RunView {
            tank_kpa: tank,
            tank_is_gauge: false,
            outside: OutsideSeries::at_sea_level(),
            switched_off: &never,
            kelvin: silent,
            supply_v: silent,
            tank_l: Some(20.0),
            fills: &quiet,
            others: &quiet,
        };
        let span = OnSpan {
            from_ms: 300_000,
            to_ms: 360_000,
            start_seen: true,
            end_seen: true,
            wired: true,
        };
        let run = measure_run(&view, &span).expect("seen");
        let rate = run.anr_l_per_min.expect("undisturbed");
        assert!((rate - 10.0).abs() < 0.1, "{rate}");
        assert!((run.kpa_abs.1 - 1_080.0).abs() < 1.0);
        // A fill before it has cooled leaves no figure.
        let fill = Busy::new([(400_000, 401_000)]);
        view.fills = &fill;
        let run = measure_run(&view, &span).expect("seen");
        assert_eq!(run.anr_l_per_min, None);
    }

    /// Invented: of two undisturbed runs cooling leaves 80 %; a third with a fill
    /// inside and another right behind it is reckoned alike.
    #[test]
    fn what_a_fill_took_meanwhile_was_delivered_too() {
        let run = |from_ms: i64, filling: bool, cooled: Option<f64>| Run {
            from_ms,
            to_ms: from_ms + 60_000,
            kpa_abs: (1_000.0, 1_100.0),
            kpa_gauge: None,
            outside_kpa_abs: 100.0,
            barometer: true,
            outside_k: None,
            ended_by: RunEnd::Switch,
            gain_anr_l: Some(20.0),
            cooled_gain_anr_l: cooled,
            filling,
            alone: true,
            anr_l_per_min: cooled.filter(|_| !filling),
            supply_v: None,
        };
        let runs = [
            run(0, false, Some(16.0)),
            run(1_000_000, false, Some(16.0)),
            run(2_000_000, true, None),
        ];
        let fill = |mm: Option<(f64, f64)>| Move {
            place: "front_left".into(),
            direction: Direction::Fill,
            from_ms: 2_010_000,
            to_ms: 2_012_000,
            open_s: 2.0,
            wired: true,
            driving: None,
            mm,
            kpa_abs: (500.0, 520.0),
            time_to_height_s: None,
            timed_by_pressure: false,
            response_ms: None,
            amount_anr_l: 3.0,
            amount_error: Default::default(),
            shape_kpa: 900.0,
            conductance: 0.1,
            conductance_se: 0.01,
            at_least: false,
            error: Default::default(),
            timing: Default::default(),
        };
        let told = |mm| with_fills(&runs, &[fill(mm)])[2].anr_l_per_min;
        assert!((told(Some((0.0, 10.0))).expect("measured") - 19.0).abs() < 1e-9);
        // Without a height the fill took more than its pressure tells.
        assert_eq!(told(None), None);
        assert_eq!(with_fills(&runs, &[])[2].anr_l_per_min, None);
    }

    /// Invented: readings every 30 s at rest, every 2 s while it runs.
    #[test]
    fn a_run_between_two_rests_is_measured() {
        let rising = (100..160)
            .step_by(2)
            .map(|s| (s, 1_000.0 + 4.0 * f64::from(s - 100)));
        let before = [(20, 1_000.0), (50, 1_000.0), (80, 1_000.0)];
        let after = (188..600).step_by(30).map(|s| (s, 1_200.0));
        let all: Vec<(i32, f64)> = before.into_iter().chain(rising).chain(after).collect();
        let t_ms: Vec<i64> = all.iter().map(|p| i64::from(p.0) * 1000).collect();
        let kpa: Vec<f32> = all.iter().map(|p| p.1 as f32).collect();
        let tank = Series::new(&t_ms, &kpa, 0.0);
        let (silent, quiet) = (Series::default(), Busy::default());
        let never = SwitchedOff::default();
        let view = RunView {
            tank_kpa: tank,
            tank_is_gauge: false,
            outside: OutsideSeries::at_sea_level(),
            switched_off: &never,
            kelvin: silent,
            supply_v: silent,
            tank_l: Some(20.0),
            fills: &quiet,
            others: &quiet,
        };
        let span = OnSpan {
            from_ms: 99_000,
            to_ms: 160_000,
            start_seen: true,
            end_seen: true,
            wired: true,
        };
        let run = measure_run(&view, &span).expect("seen");
        assert!((run.kpa_abs.0 - 1_000.0).abs() < 1e-3, "{run:?}");
        assert!((run.kpa_abs.1 - 1_240.0).abs() < 1e-3, "{run:?}");
        assert!(run.anr_l_per_min.is_some());
    }
}
