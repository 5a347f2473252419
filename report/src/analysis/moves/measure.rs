//! What one move did.

use super::super::air::Vessel;
use super::super::segment::OnSpan;
use super::super::volume_error::State;
use super::error::{amount_error, conductance_error};
use super::flow_time::{starts_ms, stops_ms};
use super::heat;
use super::lag::response_ms;
use super::sensors::ReadingsOff;
use super::series::WindowMean;
use super::sticking::{Sticking, sticking};
use super::{Direction, Move, MoveSensors, Opening, Series, Timing};
use seep_common::physics::flow;
use seep_common::physics::gas::{ANR_K, amount_anr_l};
use seep_common::rig::SensorError;
use seep_common::tick::DRIVING_KMH;

/// Series of one circuit and its surroundings over one session.
#[derive(Debug, Clone, Copy)]
pub struct MoveView<'a> {
    /// The circuit.
    pub vessel: &'a Vessel,
    /// Corner pressure, kPa absolute.
    pub corner_kpa_abs: Series<'a>,
    /// Tank pressure, kPa absolute; empty when not recorded.
    pub tank_kpa_abs: Series<'a>,
    /// Height, mm; empty when not recorded.
    pub mm: Series<'a>,
    /// Temperature nearest to the air, K; empty when not recorded.
    pub kelvin: Series<'a>,
    /// Coils of the fill and the dump valve; empty when not wired.
    pub coils: [Series<'a>; 2],
    /// Speed, km/h; empty when not recorded.
    pub kmh: Series<'a>,
    /// What the sensors are off by.
    pub sensors: MoveSensors,
    /// Outside pressure, kPa absolute.
    pub ambient_kpa_abs: f64,
    /// Critical pressure ratio assumed for the path.
    pub critical_ratio: f64,
    /// A corner within this of its final height has arrived, mm.
    pub height_tolerance_mm: f64,
    /// The same by pressure, kPa.
    pub pressure_tolerance_kpa: f64,
}

/// Readings further apart than this are not joined by a line, ms.
const JOIN_MS: i64 = 3_000;

/// Window for the state before, ms.
const BEFORE_MS: i64 = 20_000;

/// The state after is read late, when air and rubber have come nearer to each
/// other, but not so late that a leak matters, ms.
const AFTER_MS: (i64, i64) = (15_000, 90_000);

/// The raster of a sensor is looked for this long around a move, ms.
const RASTER_MS: i64 = 600_000;

/// A sensor that reads the same so many times before, during and after a move is stuck,
/// or the corner lies on its stop: what was moved is not known then.
const STUCK_READINGS: usize = 8;

/// Uncertainty of the critical pressure ratio assumed, one standard deviation;
/// common practice, no source.
const CRITICAL_RATIO_SD: f64 = 0.08;

/// Measure a move. `None` when readings around or during it are missing.
///
/// `C = Δn / ∫ψ dt`: air moved over the integral of the flow law's driving
/// term while the valve was open, so a slow valve shows whatever tank pressure,
/// load and step the move had. Δn is taken between the states before and
/// after, at rest, so the heat of the move itself drops out.
///
/// **Units**: C in L/(s·bar) ANR. **Source**: ISO 6358 for ψ.
#[must_use]
pub fn measure(view: &MoveView, opening: &Opening) -> Option<Move> {
    let (from_ms, to_ms) = (opening.from_ms(), opening.to_ms());
    let before = state(
        view,
        (from_ms - BEFORE_MS).max(opening.quiet_since_ms),
        from_ms,
    )?;
    let late = (
        to_ms + AFTER_MS.0,
        (to_ms + AFTER_MS.1).min(opening.quiet_until_ms),
    );
    let early = (
        to_ms + 500,
        (to_ms + AFTER_MS.0).min(opening.quiet_until_ms),
    );
    let (after, window) = state(view, late.0, late.1)
        .map(|state| (state, late))
        .or_else(|| Some((state(view, early.0, early.1)?, early)))?;
    let seen = (from_ms - BEFORE_MS, late.1.max(early.1));
    let stuck = |s: Series| !s.is_empty() && s.stands_still(seen.0, seen.1, STUCK_READINGS);
    if stuck(view.mm) || stuck(view.corner_kpa_abs) {
        return None;
    }
    let integral = |critical_ratio: f64, off: ReadingsOff| -> Option<f64> {
        let spans = opening.spans.iter();
        spans
            .map(|s| shape_integral(view, critical_ratio, off, opening.direction, s))
            .sum()
    };
    let as_read = ReadingsOff::default();
    let integral_kpa_s = integral(view.critical_ratio, as_read)?;
    let open_s: f64 = opening.spans.iter().map(OnSpan::seconds).sum();
    if open_s <= 0.0 || integral_kpa_s <= 0.0 {
        return None;
    }
    let window_s = [window.0, window.1].map(|t| (t - to_ms) as f64 / 1000.0);
    let heat = heat::left(before.at, after.at, window_s);
    let amount = after.amount * heat.factor - before.amount;
    let sign = match opening.direction {
        Direction::Fill => 1.0,
        Direction::Dump => -1.0,
    };
    let wired = opening.spans.iter().all(|s| s.wired);
    let at_least = !wired || !view.vessel.follows_height() || before.mm.is_none();
    // 1 L/(s·kPa) is 100 L/(s·bar).
    let mut conductance = sign * amount / integral_kpa_s * 100.0;
    if at_least {
        conductance *= least_share(view, open_s, wired, before.mm.is_some());
    }
    let noise_l = before.amount_se.hypot(after.amount_se);
    let heat_l = after.amount * heat.error;
    let sensors = view.sensors.each_off(view, before.at.kpa_abs);
    let amount_error = amount_error(view, (before.at, after.at), &sensors, noise_l, heat_l);
    let share_of = |critical_ratio: f64, off: ReadingsOff| -> Option<f64> {
        Some(integral(critical_ratio, off)? / integral_kpa_s - 1.0)
    };
    let ratio_share = share_of(view.critical_ratio + CRITICAL_RATIO_SD, as_read)?;
    let mut flow_shares = [0.0; 3];
    for (share, off) in flow_shares.iter_mut().zip(sensors) {
        *share = share_of(view.critical_ratio, off)?;
    }
    let error = conductance_error(amount, &amount_error, ratio_share, &flow_shares);
    let timing = timing(view, opening, wired);
    let (time_to_height_s, timed_by_pressure) = arrival(view, opening, &after);
    Some(Move {
        place: view.vessel.place.clone(),
        direction: opening.direction,
        from_ms,
        to_ms,
        open_s,
        wired,
        driving: driving(view, from_ms, to_ms),
        mm: before.mm.zip(after.mm),
        kpa_abs: (before.at.kpa_abs, after.at.kpa_abs),
        time_to_height_s,
        timed_by_pressure,
        response_ms: wired.then(|| response_ms(view, opening, &timing)).flatten(),
        amount_anr_l: amount,
        amount_error,
        shape_kpa: integral_kpa_s / open_s,
        conductance,
        conductance_se: conductance.abs() * error.total(),
        at_least,
        error,
        timing,
    })
}

/// When air flowed, by the first and the last pulse.
fn timing(view: &MoveView, opening: &Opening, wired: bool) -> Timing {
    let coil = match opening.direction {
        Direction::Fill => view.coils[0],
        Direction::Dump => view.coils[1],
    };
    let told = |of: fn(&MoveView, &Opening) -> Option<f64>| {
        let seen = wired && !view.mm.is_empty();
        seen.then(|| of(view, opening)).flatten()
    };
    Timing {
        pulses: opening.spans.len(),
        raster_s: coil.raster_of_changes_s(opening.from_ms(), opening.to_ms()),
        starts_ms: told(starts_ms),
        stops_ms: told(stops_ms),
        sticking: if wired {
            sticking(view, opening)
        } else {
            Sticking::default()
        },
    }
}

/// A spring without a lower stop in the rig is taken to hold at least this share of its
/// volume at height 0 when it is low. Common practice, no source.
const LEAST_VOLUME_SHARE: f64 = 0.7;

/// By how much a conductance may be too large to be a lower bound: without a wire the
/// valve may have been open from the reading before to the one after; without a height
/// the spring may have been at its smallest.
fn least_share(view: &MoveView, open_s: f64, wired: bool, by_height: bool) -> f64 {
    let apart_s = view.corner_kpa_abs.typical_step_s();
    let of_time = if wired {
        1.0
    } else {
        open_s / (open_s + 2.0 * apart_s)
    };
    let vessel = view.vessel;
    let least_l = vessel
        .lower_stop_mm
        .map_or(LEAST_VOLUME_SHARE * vessel.volume_l(0.0), |mm| {
            vessel.volume_l(mm)
        });
    let of_volume = if by_height {
        1.0
    } else {
        (least_l / vessel.volume_l(0.0)).min(1.0)
    };
    of_time * of_volume
}

/// Whether the car moved around a move.
fn driving(view: &MoveView, from_ms: i64, to_ms: i64) -> Option<bool> {
    let (_, kmh) = view.kmh.window(from_ms - BEFORE_MS, to_ms + BEFORE_MS);
    (!kmh.is_empty()).then(|| kmh.iter().any(|v| *v > DRIVING_KMH))
}

/// Means before or after.
struct Around {
    at: State,
    mm: Option<f64>,
    amount: f64,
    amount_se: f64,
}

fn state(view: &MoveView, from_ms: i64, to_ms: i64) -> Option<Around> {
    let kpa = view.corner_kpa_abs.mean(from_ms, to_ms)?;
    let mm = view.mm.mean(from_ms, to_ms);
    if !view.mm.is_empty() && mm.is_none() {
        return None;
    }
    let kelvin = kelvin_around(view, from_ms, to_ms);
    let height = mm.map_or(f64::NAN, |m| m.mean);
    let volume_l = view.vessel.volume_l(height);
    let amount = amount_anr_l(kpa.mean, volume_l, kelvin);
    let slope = view
        .vessel
        .volume
        .slope_l_per_mm(if height.is_nan() { 0.0 } else { height })
        .unwrap_or(0.0);
    let around = (from_ms - RASTER_MS, to_ms + RASTER_MS);
    let sensors = &view.sensors;
    let raster = |series: Series, sensor: &SensorError| {
        let seen = series.raster(around.0, around.1);
        seen.max(sensor.quantum.unwrap_or(0.0))
    };
    let kpa_raster = raster(view.corner_kpa_abs, &sensors.corner);
    let of_kpa = error_of_mean(&kpa, kpa_raster).hypot(sensors.corner.hysteresis());
    let mm_raster = raster(view.mm, &sensors.mm);
    let by_pressure = of_kpa / kpa.mean;
    let by_height = mm.map_or(0.0, |m| {
        let of_mm = error_of_mean(&m, mm_raster).hypot(sensors.mm.hysteresis());
        of_mm * slope / volume_l
    });
    Some(Around {
        at: State {
            kpa_abs: kpa.mean,
            kelvin,
            mm: height,
        },
        mm: mm.map(|m| m.mean),
        amount,
        amount_se: amount * by_pressure.hypot(by_height),
    })
}

/// Standard error of a mean of rounded readings: their scatter, but never less than the
/// rounding itself, which no number of equal readings makes smaller, and of one reading
/// alone a whole step.
///
/// **Source**: rounding to a raster r has the standard deviation r/√12 (JCGM 100:2008,
/// 4.3.7).
fn error_of_mean(mean: &WindowMean, raster: f64) -> f64 {
    let rounding = if mean.n > 1 {
        raster / 12_f64.sqrt()
    } else {
        raster
    };
    mean.standard_error().max(rounding)
}

/// Temperature within ten minutes of a stretch, K; the reference where silent.
fn kelvin_around(view: &MoveView, from_ms: i64, to_ms: i64) -> f64 {
    const REACH_MS: i64 = 600_000;
    view.kelvin
        .mean(from_ms - REACH_MS, to_ms + REACH_MS)
        .map_or(ANR_K, |t| t.mean)
}

/// ∫ψ dt over one pulse, kPa·s, in steps of a fiftieth of the pulse.
fn shape_integral(
    view: &MoveView,
    critical_ratio: f64,
    off: ReadingsOff,
    direction: Direction,
    pulse: &OnSpan,
) -> Option<f64> {
    let (from_ms, to_ms) = (pulse.from_ms, pulse.to_ms);
    const STEPS: i32 = 50;
    let dt_s = (to_ms - from_ms) as f64 / 1000.0 / f64::from(STEPS);
    let kelvin = kelvin_around(view, from_ms, to_ms);
    let mut sum = 0.0;
    for i in 0..STEPS {
        let share = (f64::from(i) + 0.5) / f64::from(STEPS);
        let t = from_ms + ((to_ms - from_ms) as f64 * share) as i64;
        let read_off =
            |kpa_abs: f64, share: f64| kpa_abs + share * (kpa_abs - view.ambient_kpa_abs);
        let corner = read_off(view.corner_kpa_abs.at(t, JOIN_MS)?, off.corner);
        let (up, down) = match direction {
            Direction::Fill => {
                let tank = view.tank_kpa_abs.at(t, JOIN_MS)?;
                (read_off(tank, off.tank), corner)
            }
            Direction::Dump => (corner, view.ambient_kpa_abs),
        };
        if up > down {
            sum += flow::shape_kpa(critical_ratio, up, down, kelvin) * dt_s;
        }
    }
    Some(sum)
}

/// When the corner arrived: the last reading outside tolerance, seen backwards.
fn arrival(view: &MoveView, opening: &Opening, after: &Around) -> (Option<f64>, bool) {
    let (series, target, tolerance, by_pressure) = match after.mm {
        Some(mm) => (view.mm, mm, view.height_tolerance_mm, false),
        None => (
            view.corner_kpa_abs,
            after.at.kpa_abs,
            view.pressure_tolerance_kpa,
            true,
        ),
    };
    let from_ms = opening.from_ms();
    let until_ms = (opening.to_ms() + AFTER_MS.0).min(opening.quiet_until_ms);
    let (t_ms, values) = series.window(from_ms - JOIN_MS, until_ms);
    let last_outside = values.iter().rposition(|v| (v - target).abs() > tolerance);
    let seconds = match last_outside {
        None => Some(0.0),
        Some(i) if i + 1 < values.len() => {
            // Where the line between the two readings enters the tolerance.
            let (a, b) = ((values[i] - target).abs(), (values[i + 1] - target).abs());
            let share = if a > b {
                (a - tolerance) / (a - b)
            } else {
                1.0
            };
            let t = t_ms[i] as f64 + share.clamp(0.0, 1.0) * (t_ms[i + 1] - t_ms[i]) as f64;
            Some(((t - from_ms as f64) / 1000.0).max(0.0))
        }
        Some(_) => None,
    };
    (seconds, by_pressure)
}

#[cfg(test)]
mod tests;
