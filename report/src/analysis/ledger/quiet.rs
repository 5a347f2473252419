//! Amounts of air in quiet moments, from the two ends of rests.

use super::super::air::Vessel;
use super::super::segment::{Rest, RestPoint};
use super::super::stats::mean;
use seep_common::physics::gas::{ANR_K, amount_anr_l};

/// A quiet moment of a volume.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct QuietMoment {
    /// Log time, s.
    pub t_s: f64,
    /// Air, ANR L.
    pub anr_l: f64,
    /// Standard error of it from the temperature and the readings, ANR L.
    pub se_l: f64,
}

/// Begin and end of a rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct QuietEnds {
    pub begin: QuietMoment,
    pub end: QuietMoment,
}

/// The heat of what came before has gone after this time, s: five time constants of the
/// air of a tank against its shell. Common practice, no source.
const COOLED_S: f64 = 200.0;

/// Readings of an end are those within this time, s.
const END_S: f64 = 120.0;

/// A thermometer at the volume itself tells its air this well, K, and one elsewhere;
/// common practice, no source.
const OWN_K: f64 = 1.0;
const ELSEWHERE_K: f64 = 4.0;
/// The same where none is recorded.
const UNSEEN_K: f64 = 8.0;

/// Ends of the rests of a volume that lie inside `[from_s, to_s]`, in order of time.
pub(super) fn rest_ends(
    vessel: &Vessel,
    rests: &[Rest],
    own_thermometer: bool,
    (from_s, to_s): (f64, f64),
) -> Vec<QuietEnds> {
    let of = |rest: &Rest| {
        let points: Vec<RestPoint> = rest
            .points
            .iter()
            .filter(|p| (from_s..=to_s).contains(&p.t_s))
            .copied()
            .collect();
        let (first, last) = (points.first()?.t_s, points.last()?.t_s);
        let cooled = points.iter().filter(|p| p.t_s >= first + COOLED_S);
        let early: Vec<RestPoint> = cooled
            .take_while(|p| p.t_s <= first + COOLED_S + END_S)
            .copied()
            .collect();
        let late: Vec<RestPoint> = points
            .iter()
            .filter(|p| p.t_s >= (last - END_S).max(first + COOLED_S))
            .copied()
            .collect();
        Some(QuietEnds {
            begin: quiet(vessel, &early, own_thermometer)?,
            end: quiet(vessel, &late, own_thermometer)?,
        })
    };
    let own = rests.iter().filter(|r| r.place == vessel.place);
    let mut out: Vec<QuietEnds> = own.filter_map(of).collect();
    out.sort_by(|a, b| a.begin.t_s.total_cmp(&b.begin.t_s));
    out
}

fn quiet(vessel: &Vessel, points: &[RestPoint], own_thermometer: bool) -> Option<QuietMoment> {
    let of = |value: fn(&RestPoint) -> f64| -> Option<f64> {
        mean(&points.iter().map(value).collect::<Vec<_>>())
    };
    let kpa = of(|p| p.kpa_abs)?;
    let seen_k = of(|p| p.kelvin).filter(|k| k.is_finite());
    let kelvin = seen_k.unwrap_or(ANR_K);
    let anr_l = amount_anr_l(kpa, vessel.volume_l(of(|p| p.mm)?), kelvin);
    let off_k = match seen_k {
        None => UNSEEN_K,
        Some(_) if own_thermometer => OWN_K,
        Some(_) => ELSEWHERE_K,
    };
    Some(QuietMoment {
        t_s: of(|p| p.t_s)?,
        anr_l,
        se_l: anr_l * off_k / kelvin,
    })
}
