//! What one rest says, and under which conditions it was.

use super::super::leak::LeakFit;
use super::super::segment::{LastMove, Rest, RestPoint};
use super::super::stats::median;

/// Loss of a volume over one rest, with what may have caused it.
#[derive(Debug, Clone, PartialEq)]
pub struct RestLoss {
    /// Loss, ANR L/s.
    pub l_per_s: f64,
    /// Its standard error, all in.
    pub se: f64,
    /// The part of it that is this rest's own.
    pub own_se: f64,
    /// What was done before.
    pub after: LastMove,
    /// Temperatures over the rest, evenly spaced in time, °C; empty when none
    /// is recorded.
    pub celsius: Vec<f64>,
    /// Pressure at its start, kPa absolute: a leak lowers that of its own rest,
    /// and would pass for its own reason.
    pub kpa_abs: f64,
    /// Height at its start, mm; `NaN` when none is recorded.
    pub mm: f64,
    /// Change of the loss by one standard deviation of each error that is the
    /// same in every rest (the rig's volume, the gain of the temperature or the
    /// daily swing of one that is not recorded), ANR L/s.
    pub shared_errors_l_per_s: Vec<f64>,
}

/// Temperatures are looked at this many times per rest.
const LOOKS: u32 = 24;

/// The rests of one volume with their fits, in time order.
#[must_use]
pub fn rest_losses(place: &str, fits: &[LeakFit], rests: &[Rest]) -> Vec<RestLoss> {
    let own: Vec<&Rest> = rests.iter().filter(|r| r.place == place).collect();
    let of_fit = |fit: &LeakFit| {
        let inside = |r: &&&Rest| {
            let (first, last) = (r.points.first(), r.points.last());
            first
                .zip(last)
                .is_some_and(|(a, b)| a.t_s <= fit.t_s.0 + 60.0 && b.t_s >= fit.t_s.1 - 60.0)
        };
        own.iter().find(inside).map(|rest| loss(fit, rest))
    };
    fits.iter()
        .filter(|f| f.place == place && !f.lower_bound)
        .filter_map(of_fit)
        .collect()
}

fn loss(fit: &LeakFit, rest: &Rest) -> RestLoss {
    let seconds = fit.t_s.1 - fit.t_s.0;
    let celsius: Vec<f64> = (0..LOOKS)
        .map(|i| fit.t_s.0 + seconds * (f64::from(i) + 0.5) / f64::from(LOOKS))
        .map(|t_s| kelvin_at(rest, t_s) - seep_common::units::ICE_POINT_K)
        .filter(|c| !c.is_nan())
        .collect();
    RestLoss {
        l_per_s: fit.loss_l_per_s.value,
        se: fit.loss_l_per_s.se,
        own_se: fit.without_shared_errors().se,
        after: fit.after,
        celsius,
        kpa_abs: at_start(fit, rest, |p| p.kpa_abs).unwrap_or(fit.mean_kpa_abs),
        mm: at_start(fit, rest, |p| p.mm).unwrap_or(f64::NAN),
        shared_errors_l_per_s: fit.all_shared_errors().collect(),
    }
}

/// The start of a rest: this share of it.
const START: f64 = 0.1;

/// Median of what was read at the start of the rest.
fn at_start(fit: &LeakFit, rest: &Rest, of: impl Fn(&RestPoint) -> f64) -> Option<f64> {
    let end_s = fit.t_s.0 + START * (fit.t_s.1 - fit.t_s.0);
    let inside = rest.points.iter().filter(|p| p.t_s >= fit.t_s.0);
    let start = inside
        .enumerate()
        .take_while(|(i, p)| *i == 0 || p.t_s <= end_s);
    let read: Vec<f64> = start.map(|(_, p)| of(p)).filter(|x| !x.is_nan()).collect();
    median(&read)
}

/// Temperature on the line between two readings; over a power-off gap too.
fn kelvin_at(rest: &Rest, t_s: f64) -> f64 {
    let points = &rest.points;
    let after = points.partition_point(|p| p.t_s <= t_s);
    match (after.checked_sub(1).map(|i| &points[i]), points.get(after)) {
        (Some(a), Some(b)) if !a.kelvin.is_nan() && !b.kelvin.is_nan() => {
            let share = (t_s - a.t_s) / (b.t_s - a.t_s);
            a.kelvin + share * (b.kelvin - a.kelvin)
        }
        (Some(p), _) | (None, Some(p)) => p.kelvin,
        (None, None) => f64::NAN,
    }
}
