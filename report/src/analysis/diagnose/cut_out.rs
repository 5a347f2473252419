//! Where the compressor stops: at its cut-out pressure, at one that moves, or
//! early, because its thermal switch opened.

use super::super::delivery::{Run, RunEnd};
use super::super::estimate::Estimate;
use super::super::stats::{mann_kendall, median, robust_sd, short_term_sd, theil_sen};

/// A compressor that stopped early again and again.
#[derive(Debug, Clone, PartialEq)]
pub struct ThermalCutOuts {
    /// Compressor.
    pub place: String,
    /// Runs that ended early.
    pub early: usize,
    /// Runs looked at.
    pub runs: usize,
    /// Runs left out because the end of the recording, the ignition or a fill may have
    /// ended them, or the tank's reading stood still.
    pub ended_otherwise: usize,
    /// Pressure at which it should stop, kPa gauge.
    pub cut_out_kpa_gauge: f64,
    /// Median pressure at which it stopped early, kPa gauge.
    pub stopped_at_kpa_gauge: f64,
    /// Median pause after an early stop, s.
    pub pause_s: Option<f64>,
    /// Probability that so many early stops are no accident.
    pub probability: f64,
}

/// The pressure at which the compressor stops has moved.
#[derive(Debug, Clone, PartialEq)]
pub struct CutOutShift {
    /// Change of the cut-out pressure, kPa a day.
    pub kpa_per_day: Estimate,
    /// The same of the pressure at which it starts, where that is steady enough.
    pub cut_in_kpa_per_day: Option<Estimate>,
    /// Days from first to last run.
    pub days: f64,
    /// Runs behind it.
    pub runs: usize,
}

/// A stop this far below the cut-out is early, kPa.
const EARLY_KPA: f64 = 25.0;

/// Ends that scatter less than this about a line lie on that line, kPa.
const STEADY_KPA: f64 = 8.0;

/// Early stops by other causes, as a share of all runs (a switched-off
/// ignition). Common practice, no source.
const OTHER_SHARE: f64 = 0.02;

/// Early stops needed.
const FEWEST_EARLY: usize = 2;

/// Runs needed for a line.
const FEWEST_RUNS: usize = 5;

/// Runs needed before their order can say anything: of six even a perfect order
/// is chance once in 360.
const FEWEST_ORDERED: usize = 7;

/// A shift smaller than this from the first to the last third is not called one,
/// kPa.
const LEAST_SHIFT_KPA: f64 = 8.0;

/// A shift is beyond what the weather does to the sensor above so many standard
/// deviations of it: 1 % by chance, two-sided.
const WEATHER_Z: f64 = 2.576;

/// First and last third of a log whose temperatures are not recorded differ by so much,
/// one standard deviation, K. Common practice, no source: weeks of one season.
const UNSEEN_WEATHER_K: f64 = 5.0;

/// The order of the stops is no accident below this p value.
const SHIFT_P: f64 = 0.002;

/// Early stops of one compressor; `cut_out_kpa_gauge` as the rig has it.
///
/// Only runs that nothing else ended are looked at, see [`RunEnd`]. Ends that lie on a
/// line, level or not, are the cut-out; only those below it are early. Early is none
/// before or after which the switch also starts the compressor lower than usual: see
/// [`window_moved`]. Chance: so many or more out of all runs when each ends early by other
/// causes one time in fifty.
#[must_use]
pub fn thermal_cut_outs(
    place: &str,
    all: &[Run],
    cut_out_kpa_gauge: Option<f64>,
) -> Option<ThermalCutOuts> {
    let runs = by_the_switch(all);
    let ends = stops(&runs);
    let line = line(&runs, &ends);
    let expected = |i: usize| -> Option<f64> {
        match &line {
            Some((at, scatter)) if *scatter < STEADY_KPA => Some(at(day(&runs[i]))),
            _ => cut_out_kpa_gauge,
        }
    };
    let early = early(&runs, all, &ends, &expected);
    let probability = 1.0 - at_least(early.len(), runs.len(), OTHER_SHARE);
    if early.len() < FEWEST_EARLY || probability < 0.95 {
        return None;
    }
    let pauses: Vec<f64> = early
        .iter()
        .filter_map(|i| Some((next(&runs[*i], all)?.from_ms - runs[*i].to_ms) as f64 / 1e3))
        .collect();
    let stopped: Vec<f64> = early.iter().map(|i| ends[*i]).collect();
    Some(ThermalCutOuts {
        place: place.into(),
        early: early.len(),
        runs: runs.len(),
        ended_otherwise: all.len() - runs.len(),
        cut_out_kpa_gauge: expected(early[0])?,
        stopped_at_kpa_gauge: median(&stopped)?,
        pause_s: median(&pauses),
        probability,
    })
}

/// Runs that ended below what was expected of the switch, and not because the switch as a
/// whole sat lower.
fn early(
    runs: &[Run],
    all: &[Run],
    ends: &[f64],
    expected: &impl Fn(usize) -> Option<f64>,
) -> Vec<usize> {
    let lower = |i: usize| Some(expected(i)? - ends[i]);
    let (mut below, usual): (Vec<usize>, Vec<usize>) =
        (0..runs.len()).partition(|i| lower(*i).is_some_and(|kpa| kpa > EARLY_KPA));
    let start = |run: &Run| Some(run.kpa_gauge?.0);
    let usual: Vec<f64> = usual.iter().filter_map(|i| start(&runs[*i])).collect();
    let Some(usual) = median(&usual) else {
        return below;
    };
    below.retain(|i| {
        let around = [Some(&runs[*i]), next(&runs[*i], all)];
        let mut starts = around.into_iter().flatten().filter_map(start);
        let lower = lower(*i).unwrap_or_default();
        !starts.any(|start| window_moved(usual - start, lower))
    });
    below
}

/// The run after this one, whatever ended it.
fn next<'a>(run: &Run, all: &'a [Run]) -> Option<&'a Run> {
    all.iter().find(|r| r.from_ms > run.to_ms)
}

/// Whether the switch as a whole sat lower: a start lies below the usual one as well, by
/// something between half and twice of what the stop lay below its own.
///
/// A thermal switch opens at a temperature and knows no pressure: the pressure switch
/// starts the compressor again where it always does, or later, while the motor cools. A
/// pressure switch, or the sensor that reads the tank, whose spring or zero has moved
/// with its temperature takes both ends of its window with it.
fn window_moved(start_lower_kpa: f64, stop_lower_kpa: f64) -> bool {
    (0.5..=2.0).contains(&(start_lower_kpa / stop_lower_kpa))
}

/// Shift of the cut-out over the log. The runs are those of all compressors
/// together: they obey one switch.
///
/// The switch compares the tank with the outside, so gauge pressures of the moment
/// decide; runs where they are not known, and runs that a fill or the ignition may have
/// ended, are left out.
///
/// A cut-out that moves at all keeps moving one way; stops that a thermal switch
/// makes early come as they come. So the order of the stops decides
/// (Mann–Kendall), and the last third less the first says how much. Stops that usually
/// scatter by more than a switch repeats ([`STEADY_KPA`]) are not made by one.
///
/// The zero of the tank's sensor shifts with its temperature, by `zero_kpa_per_k`, and
/// takes every reading of the switch with it: a shift that the weather between the thirds
/// explains is none.
#[must_use]
pub fn cut_out_shift(runs: &[Run], zero_kpa_per_k: f64) -> Option<CutOutShift> {
    let runs = &by_the_switch(runs)[..];
    let weather_kpa = weather_kpa(runs, zero_kpa_per_k);
    let ends = stops(runs);
    if usual_scatter(&ends)? > STEADY_KPA {
        return None;
    }
    let starts: Vec<f64> = runs.iter().filter_map(|r| Some(r.kpa_gauge?.0)).collect();
    let moved = between_thirds(runs, &ends)?;
    let ordered = mann_kendall(&ends).is_some_and(|mk| mk.p() < SHIFT_P);
    let least_kpa = LEAST_SHIFT_KPA.max(WEATHER_Z * weather_kpa);
    (ordered && moved.kpa.abs() > least_kpa).then(|| CutOutShift {
        kpa_per_day: moved.per_day.with_known_error(weather_kpa / moved.days),
        cut_in_kpa_per_day: between_thirds(runs, &starts)
            .filter(|_| steady(runs, &starts))
            .map(|m| m.per_day),
        days: moved.days,
        runs: runs.len(),
    })
}

/// Smallest drift of the tank's reading (or of its switch) over the whole log
/// that would have shown as a shift of the cut-out, kPa: a steady one moves the
/// last third against the first by two thirds of it, and that must exceed
/// [`LEAST_SHIFT_KPA`] by 1.645 standard errors of their difference. `None` with
/// too few runs for the order of the stops to say anything.
///
/// `zero_kpa_per_k` as for [`cut_out_shift`].
#[must_use]
pub fn tank_drift_seen_from_kpa(runs: &[Run], zero_kpa_per_k: f64) -> Option<f64> {
    let runs = &by_the_switch(runs)[..];
    let weather_kpa = weather_kpa(runs, zero_kpa_per_k);
    let ends = stops(runs);
    if usual_scatter(&ends)? > STEADY_KPA {
        return None;
    }
    let third = ends.len() / 3;
    let se = short_term_sd(&ends)? * 1.25 * (2.0 / third as f64).sqrt();
    let least_kpa = LEAST_SHIFT_KPA.max(WEATHER_Z * weather_kpa);
    let seen_kpa = least_kpa + 1.645 * se.hypot(weather_kpa);
    (ends.len() >= FEWEST_ORDERED).then_some(1.5 * seen_kpa)
}

/// What the weather between the first and the last third does to the zero of the tank's
/// sensor, kPa, one standard deviation.
fn weather_kpa(runs: &[Run], zero_kpa_per_k: f64) -> f64 {
    let kelvin: Option<Vec<f64>> = runs.iter().map(|r| r.outside_k).collect();
    let third = runs.len() / 3;
    let warmer_k = kelvin.and_then(|k| {
        let (first, last) = (median(&k[..third])?, median(&k[k.len() - third..])?);
        Some((last - first).abs())
    });
    zero_kpa_per_k * warmer_k.unwrap_or(UNSEEN_WEATHER_K)
}

/// Runs that nothing but the switch is known to have ended, at a known pressure. Where the tank
/// reads to the last digit what it read at the start its sensor is stuck, or the compressor
/// brings nothing: at what pressure it stopped is not known then.
fn by_the_switch(runs: &[Run]) -> Vec<Run> {
    let stuck = |(start, end): (f64, f64)| start == end;
    let read = |r: &Run| !stuck(r.kpa_abs) && r.kpa_gauge.is_some_and(|kpa| !stuck(kpa));
    let own = |r: &&Run| r.ended_by == RunEnd::Switch && read(r);
    runs.iter().filter(own).copied().collect()
}

/// Standard deviation of a stop about a steady course, by most of them: the robust one
/// of the steps from one stop to the next, over √2. Neither a
/// steady drift nor a step in the middle nor a few early stops inflate it. `None` below
/// two values.
fn usual_scatter(ends: &[f64]) -> Option<f64> {
    let steps: Vec<f64> = ends.windows(2).map(|w| w[1] - w[0]).collect();
    robust_sd(&steps).map(|off| off / std::f64::consts::SQRT_2)
}

/// Pressures at the stops, kPa gauge.
fn stops(runs: &[Run]) -> Vec<f64> {
    runs.iter().filter_map(|r| Some(r.kpa_gauge?.1)).collect()
}

/// The last third of the runs against the first.
struct MovedCutOut {
    kpa: f64,
    per_day: Estimate,
    days: f64,
}

fn between_thirds(runs: &[Run], values: &[f64]) -> Option<MovedCutOut> {
    if values.len() < FEWEST_ORDERED {
        return None;
    }
    let third = values.len() / 3;
    let days: Vec<f64> = runs.iter().map(day).collect();
    let outer = |v: &[f64]| Some((median(&v[..third])?, median(&v[v.len() - third..])?));
    let (first, last) = outer(values)?;
    let (begin, end) = outer(&days)?;
    let se = short_term_sd(values)? * 1.25 * (2.0 / third as f64).sqrt();
    (end > begin).then(|| MovedCutOut {
        kpa: last - first,
        per_day: Estimate {
            value: (last - first) / (end - begin),
            se: se / (end - begin),
            degrees_of_freedom: (values.len() - 2) as f64,
        },
        days: days[days.len() - 1] - days[0],
    })
}

/// Values that lie on a line.
fn steady(runs: &[Run], values: &[f64]) -> bool {
    line(runs, values).is_some_and(|(_, scatter)| scatter <= STEADY_KPA)
}

fn day(run: &Run) -> f64 {
    run.to_ms as f64 / 86_400_000.0
}

/// Robust line of a value against time, and the scatter about it.
fn line(runs: &[Run], values: &[f64]) -> Option<(impl Fn(f64) -> f64, f64)> {
    let days: Vec<f64> = runs.iter().map(day).collect();
    let fit = theil_sen(&days, values, 0.95).filter(|_| values.len() >= FEWEST_RUNS - 1)?;
    let at = move |day: f64| fit.intercept + fit.slope * day;
    let off: Vec<f64> = days.iter().zip(values).map(|(d, v)| v - at(*d)).collect();
    Some((at, robust_sd(&off)?))
}

/// Probability of `hits` or more out of `n` at a chance of `p` each (binomial).
fn at_least(hits: usize, n: usize, p: f64) -> f64 {
    let mut term = (1.0 - p).powi(n as i32);
    let mut below = 0.0;
    for k in 0..hits {
        below += term;
        term *= (n - k) as f64 / (k + 1) as f64 * p / (1.0 - p);
    }
    (1.0 - below).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(hour: i64, start: f64, end: f64) -> Run {
        let from_ms = hour * 3_600_000;
        Run {
            from_ms,
            to_ms: from_ms + 120_000,
            kpa_abs: (start + 101.3, end + 101.3),
            kpa_gauge: Some((start, end)),
            outside_kpa_abs: 101.3,
            barometer: true,
            outside_k: None,
            ended_by: RunEnd::Switch,
            gain_anr_l: Some(30.0),
            cooled_gain_anr_l: None,
            filling: false,
            alone: true,
            anr_l_per_min: None,
            supply_v: None,
        }
    }

    #[test]
    fn stops_at_the_cut_out_are_no_finding() {
        let runs: Vec<Run> = (0..12)
            .map(|i| run(i * 20, 1000.0 - (i % 4) as f64, 1250.0 + (i % 3) as f64))
            .collect();
        assert_eq!(thermal_cut_outs("compressor_1", &runs, Some(1251.0)), None);
        assert_eq!(cut_out_shift(&runs, 0.2), None);
    }

    #[test]
    fn early_stops_are_thermal() {
        let runs: Vec<Run> = (0..12)
            .map(|i| {
                run(
                    i * 20,
                    1000.0,
                    if i % 3 == 1 {
                        1120.0
                    } else {
                        1250.0 + (i % 2) as f64
                    },
                )
            })
            .collect();
        let found = thermal_cut_outs("compressor_1", &runs, Some(1251.0)).expect("early");
        assert_eq!((found.early, found.runs), (4, 12));
        assert!((found.stopped_at_kpa_gauge - 1120.0).abs() < 1e-9);
        assert!(found.probability > 0.99);
    }

    /// Invented: a switch whose window sits 30 kPa lower in the warm half of each day;
    /// beside it early stops after which the compressor starts where it always does.
    #[test]
    fn a_switch_that_moves_with_its_temperature_is_not_thermal() {
        let warm = |i: i64| i % 8 >= 4;
        let moved = |i: i64, with: f64| {
            let lower = if warm(i) { 30.0 } else { 0.0 };
            run(i * 3, 910.0 - with * lower, 1150.0 - lower + (i % 3) as f64)
        };
        let whole: Vec<Run> = (0..16).map(|i| moved(i, 1.0)).collect();
        assert_eq!(thermal_cut_outs("compressor_1", &whole, Some(1150.0)), None);
        let stops_alone: Vec<Run> = (0..16).map(|i| moved(i, 0.0)).collect();
        let found = thermal_cut_outs("compressor_1", &stops_alone, Some(1150.0)).expect("early");
        assert_eq!((found.early, found.runs), (8, 16));
    }

    /// Invented: the tank's sensor sticks for a day.
    #[test]
    fn a_sensor_that_stands_still_tells_of_no_early_stop() {
        let with = |stuck: f64| -> Vec<Run> {
            let end = |i: i64| if i % 8 == 3 { stuck } else { 1150.0 };
            (0..16).map(|i| run(i * 20, 930.0, end(i))).collect()
        };
        let found = |stuck| thermal_cut_outs("compressor_1", &with(stuck), Some(1150.0));
        assert_eq!(found(930.0), None);
        assert_eq!(found(980.0).map(|f| (f.early, f.runs)), Some((2, 16)));
    }

    /// Invented: the same early stops, each with a fill or the ignition.
    #[test]
    fn stops_that_something_else_made_are_not_thermal() {
        for ended_by in [RunEnd::Fill, RunEnd::SwitchedOff] {
            let early = |i: i64| Run {
                ended_by,
                ..run(i * 20, 1000.0, 1120.0)
            };
            let whole = |i: i64| run(i * 20, 1000.0, 1250.0 + (i % 2) as f64);
            let runs: Vec<Run> = (0..12)
                .map(|i| if i % 3 == 1 { early(i) } else { whole(i) })
                .collect();
            assert_eq!(thermal_cut_outs("compressor_1", &runs, Some(1251.0)), None);
        }
    }

    #[test]
    fn a_cut_out_that_creeps_is_a_shift_and_not_thermal() {
        let runs: Vec<Run> = (0..12)
            .map(|i| {
                run(
                    i * 24,
                    1000.0 - 4.0 * i as f64,
                    1250.0 - 4.0 * i as f64 + (i % 3) as f64,
                )
            })
            .collect();
        assert_eq!(thermal_cut_outs("compressor_1", &runs, Some(1251.0)), None);
        let shift = cut_out_shift(&runs, 0.2).expect("a shift");
        assert!((shift.kpa_per_day.value + 4.0).abs() < 0.3, "{shift:?}");
        let start = shift.cut_in_kpa_per_day.expect("starts");
        assert!((start.value + 4.0).abs() < 1e-6);
        let seen_from = tank_drift_seen_from_kpa(&runs, 0.2).expect("enough");
        assert!((12.0..30.0).contains(&seen_from), "{seen_from}");
    }

    /// Invented: still for six days, then 6 kPa a day.
    #[test]
    fn a_shift_that_begins_in_the_middle_is_one() {
        let moved = |i: i64| (i - 6).max(0) as f64 * 6.0;
        let runs: Vec<Run> = (0..13)
            .map(|i| {
                run(
                    i * 24,
                    1000.0 + moved(i),
                    1250.0 + moved(i) + (i % 3) as f64,
                )
            })
            .collect();
        let shift = cut_out_shift(&runs, 0.2).expect("a shift");
        assert!(shift.kpa_per_day.value > 2.0, "{shift:?}");
    }

    #[test]
    fn early_stops_in_any_order_are_no_shift() {
        let runs: Vec<Run> = (0..12)
            .map(|i| run(i * 24, 1000.0, if i % 3 == 1 { 1120.0 } else { 1250.0 }))
            .collect();
        assert_eq!(cut_out_shift(&runs, 0.2), None);
    }

    /// Invented: runs that fills end, each a little higher than the one before; and
    /// stops that wander by far more than a switch repeats.
    #[test]
    fn stops_that_no_switch_made_are_no_shift() {
        let rising = |i: i64| {
            let off = [0.0, 90.0, -40.0, 60.0, -80.0][i as usize % 5];
            run(i * 24, 700.0, 760.0 + 40.0 * i as f64 + off)
        };
        let by_fills = |i: i64| Run {
            ended_by: RunEnd::Fill,
            ..rising(i)
        };
        let runs: Vec<Run> = (0..14).map(by_fills).collect();
        assert_eq!(cut_out_shift(&runs, 0.2), None);
        assert_eq!(tank_drift_seen_from_kpa(&runs, 0.2), None);
        let wandering: Vec<Run> = (0..14).map(rising).collect();
        assert_eq!(cut_out_shift(&wandering, 0.2), None);
    }

    /// Binomial tail by hand: 2 or more of 3 at one half is one half.
    #[test]
    fn the_tail_adds_up() {
        assert!((at_least(2, 3, 0.5) - 0.5).abs() < 1e-12);
        assert!((at_least(0, 7, 0.2) - 1.0).abs() < 1e-12);
        assert!((at_least(1, 2, 0.05) - (1.0 - 0.95 * 0.95)).abs() < 1e-12);
    }
}
