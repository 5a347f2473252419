//! Where the car will stand if it is left parked.

use super::recorded_slope::recorded_slope;
use crate::analysis::air::Vessel;
use crate::analysis::estimate::Estimate;
use crate::analysis::leak::PooledLeak;
use crate::digest::Digest;
use crate::judgement::Judgement;
use crate::model::{Measured, Unit};
use seep_common::physics::gas::{ANR_K, amount_anr_l};

/// One place after some hours at the loss measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Ahead {
    /// Circuit, or `tank`.
    pub place: String,
    /// Height at the end of the last rest, mm, where recorded.
    pub mm_now: Option<f64>,
    /// Height after the hours, not below the lower stop.
    pub mm_then: Option<Measured>,
    /// Gauge pressure at the end of the last rest, kPa.
    pub kpa_now: f64,
    /// Gauge pressure after the hours, not below that of the outside.
    pub kpa_then: Measured,
    /// When the lowest height of the rig is reached, where it gives one.
    pub reaches: Option<Reaches>,
}

/// When a height is reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reaches {
    /// That height, mm.
    pub mm: f64,
    /// Hours from the last reading, best value; infinite when nothing is lost.
    pub hours: f64,
    /// Earliest and latest at 95 %, h.
    pub between_h: (f64, f64),
}

/// One place as it stands, and how it falls.
struct Standing<'a> {
    vessel: &'a Vessel,
    ambient_kpa_abs: f64,
    kpa_abs: f64,
    mm: f64,
    /// Air inside, ANR L.
    anr_l: f64,
    /// Loss, ANR L/h: best value and 95 % interval.
    loss: (f64, f64, f64),
    /// Fall for that loss, mm/h, best value and 95 % interval, where the height gives way.
    fall: Option<(f64, f64, f64)>,
}

/// Every place after `hours`. Off its stops the height falls by as much per litre as was
/// recorded, else as the volume of the rig says; at its stop, and in the tank, the
/// pressure falls towards the outside as that of a choked hole, which is the fastest.
#[must_use]
pub fn ahead(digest: &Digest, judgement: &Judgement, hours: f64) -> Vec<Ahead> {
    let of = |leak: &PooledLeak| {
        let last = judgement.fits.iter().rfind(|f| f.place == leak.place)?;
        let vessel = digest.vessel(&leak.place)?;
        let (kpa_abs, kelvin, mm) = last.end_state;
        let kelvin = if kelvin.is_nan() { ANR_K } else { kelvin };
        let standing = Standing {
            vessel,
            ambient_kpa_abs: digest.ambient_kpa_abs,
            kpa_abs,
            mm,
            anr_l: amount_anr_l(kpa_abs, vessel.volume_l(mm), kelvin),
            loss: spread(&leak.loss_l_per_s.scaled(3600.0)),
            fall: fall(digest, leak, vessel).filter(|_| !mm.is_nan()),
        };
        Some(standing.after(hours))
    };
    judgement.leaks.iter().filter_map(of).collect()
}

fn spread(estimate: &Estimate) -> (f64, f64, f64) {
    let (low, high) = estimate.interval_95();
    (estimate.value, low, high)
}

/// Fall of height, mm/h.
fn fall(digest: &Digest, leak: &PooledLeak, vessel: &Vessel) -> Option<(f64, f64, f64)> {
    let by_volume = leak.mm_per_h?;
    let recorded = recorded_slope(&digest.rests, vessel);
    let rate = recorded.map_or(by_volume, |r| {
        let rate = leak.loss_l_per_s.scaled(3600.0 * r.mm_per_anr_l);
        rate.with_known_error(rate.value.abs() * r.relative_se)
    });
    Some(spread(&rate))
}

impl Standing<'_> {
    fn after(&self, hours: f64) -> Ahead {
        let rates = [0, 1, 2].map(|i| (pick(self.loss, i), self.fall.map(|f| pick(f, i))));
        let then = rates.map(|(loss, fall)| self.state(loss, fall, hours));
        let kpa_now = self.kpa_abs - self.ambient_kpa_abs;
        Ahead {
            place: self.vessel.place.clone(),
            mm_now: (!self.mm.is_nan()).then_some(self.mm),
            mm_then: self.fall.map(|_| between(then.map(|s| s.0), Unit::Mm)),
            kpa_now,
            kpa_then: between(then.map(|s| s.1), Unit::KpaGauge),
            reaches: self.reaches(),
        }
    }

    /// Height, mm, and gauge pressure, kPa, after some hours.
    fn state(&self, loss: f64, fall: Option<f64>, hours: f64) -> (f64, f64) {
        let gauge = |kpa_abs: f64| kpa_abs.max(self.ambient_kpa_abs) - self.ambient_kpa_abs;
        let decays = |hours: f64, anr_l: f64| {
            gauge(self.kpa_abs * (-loss * hours / anr_l.max(f64::MIN_POSITIVE)).exp())
        };
        let Some(fall) = fall else {
            return (self.mm, decays(hours, self.anr_l));
        };
        let to_stop_h = match self.stop_mm() {
            Some(stop) if fall > 0.0 => ((self.mm - stop) / fall).max(0.0),
            _ => f64::INFINITY,
        };
        let mm = self.mm - fall * hours.min(to_stop_h);
        let left = (self.anr_l - loss * to_stop_h.min(hours)).max(0.0);
        (mm, decays((hours - to_stop_h).max(0.0), left))
    }

    /// The lower stop; where the rig gives none, the height at which a tenth of the
    /// volume is left.
    fn stop_mm(&self) -> Option<f64> {
        let of_volume = || {
            let slope = self.vessel.volume.slope_l_per_mm(self.mm)?;
            let volume = self.vessel.volume_l(self.mm);
            (slope > 0.0).then(|| self.mm - 0.9 * volume / slope)
        };
        self.vessel.lower_stop_mm.or_else(of_volume)
    }

    fn reaches(&self) -> Option<Reaches> {
        let (limit, fall) = (self.vessel.lowest_ok_mm?, self.fall?);
        let above = self.mm - limit;
        let hours = |rate: f64| {
            if above <= 0.0 {
                0.0
            } else if rate > 0.0 {
                above / rate
            } else {
                f64::INFINITY
            }
        };
        Some(Reaches {
            mm: limit,
            hours: hours(fall.0),
            between_h: (hours(fall.2), hours(fall.1)),
        })
    }
}

fn pick(of: (f64, f64, f64), i: usize) -> f64 {
    [of.0, of.1, of.2][i]
}

/// Best value with the ends in order.
fn between(values: [f64; 3], unit: Unit) -> Measured {
    let [best, a, b] = values;
    Measured::estimate(best, a.min(b), a.max(b), unit)
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::rig::VolumeModel;

    fn vessel() -> Vessel {
        Vessel {
            place: "rear_left".into(),
            volume: VolumeModel::Area {
                volume_at_zero_height_l: 2.0,
                effective_area_cm2: 100.0,
            },
            line_l: 0.0,
            volume_uncertainty: 0.0,
            lower_stop_mm: Some(-60.0),
            lowest_ok_mm: Some(-40.0),
            lowest_ok_kpa_gauge: None,
        }
    }

    /// Invented: 10 mm/h from 20 mm.
    fn standing(vessel: &Vessel) -> Standing<'_> {
        Standing {
            vessel,
            ambient_kpa_abs: 100.0,
            kpa_abs: 600.0,
            mm: 20.0,
            anr_l: 13.2,
            loss: (0.6, 0.5, 0.7),
            fall: Some((10.0, 8.0, 12.0)),
        }
    }

    #[test]
    fn it_ends_at_the_stop_and_at_outside_pressure() {
        let vessel = vessel();
        let near = standing(&vessel).after(4.0);
        let mm = near.mm_then.expect("height");
        assert_eq!(
            (mm.value, mm.low, mm.high),
            (-20.0, Some(-28.0), Some(-12.0))
        );
        assert!((near.kpa_then.value - 500.0).abs() < 1e-9);
        let far = standing(&vessel).after(24.0);
        let mm = far.mm_then.expect("height");
        assert_eq!(
            (mm.value, mm.low, mm.high),
            (-60.0, Some(-60.0), Some(-60.0))
        );
        assert!(far.kpa_then.value < 500.0 && far.kpa_then.low >= Some(0.0));
        let end = standing(&vessel).after(10_000.0);
        assert!(end.kpa_then.value.abs() < 1e-9, "{end:?}");
    }

    #[test]
    fn the_limit_is_reached_between_two_times() {
        let vessel = vessel();
        let reaches = standing(&vessel).after(1.0).reaches.expect("a limit");
        assert!((reaches.hours - 6.0).abs() < 1e-12);
        assert!((reaches.between_h.0 - 5.0).abs() < 1e-12);
        assert!((reaches.between_h.1 - 7.5).abs() < 1e-12);
    }

    /// A tight tank does not fall below the outside in a year, and a choked hole
    /// takes `1 − e⁻¹` of the absolute pressure in the time `n/loss`.
    #[test]
    fn a_tank_decays_in_absolute_pressure() {
        let vessel = Vessel {
            place: "tank".into(),
            volume: VolumeModel::Fixed { volume_l: 20.0 },
            lower_stop_mm: None,
            lowest_ok_mm: None,
            ..vessel()
        };
        let tank = Standing {
            fall: None,
            mm: f64::NAN,
            kpa_abs: 1_000.0,
            anr_l: 200.0,
            loss: (2.0, 1.0, 3.0),
            ..standing(&vessel)
        };
        let then = tank.after(100.0).kpa_then;
        assert!((then.value - (1_000.0 * (-1.0_f64).exp() - 100.0)).abs() < 1e-9);
        assert!(then.low < Some(then.value) && then.high > Some(then.value));
    }
}
