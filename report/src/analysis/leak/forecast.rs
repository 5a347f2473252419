//! How long a corner stays up.

use super::super::air::Vessel;
use super::Estimate;
use seep_common::physics::gas::amount_anr_l;

/// When a limit of the rig is reached at the present loss.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Hours until the limit, best value; 0 when it is already passed.
    pub hours: f64,
    /// Earliest at 95 %.
    pub earliest_h: f64,
    /// Latest at 95 %; infinite when the loss may be nil.
    pub latest_h: f64,
    /// True when height decides, false for pressure.
    pub by_height: bool,
}

impl Forecast {
    /// True when the volume already stands below its limit.
    #[must_use]
    pub fn is_passed(&self) -> bool {
        self.hours <= 0.0
    }
}

/// Forecast from a loss rate (ANR L/s) and the state at the end of a rest.
///
/// Off its stops the pressure stays and the height falls: the air above the
/// limit is `p/100 kPa · (V(h) − V(h_limit)) · 293.15/T`. With no height limit
/// or no height, the pressure limit at constant volume decides. The rate is
/// taken as constant, which is on the safe side for a decaying leak.
#[must_use]
pub fn forecast(
    vessel: &Vessel,
    loss_l_per_s: &Estimate,
    kpa_abs: f64,
    ambient_kpa_abs: f64,
    kelvin: f64,
    mm: f64,
) -> Option<Forecast> {
    let (spare_anr_l, by_height) = match (vessel.lowest_ok_mm, vessel.lowest_ok_kpa_gauge) {
        (Some(limit_mm), _) if !mm.is_nan() && vessel.volume.needs_height() => {
            let spare_l = vessel.volume_l(mm) - vessel.volume_l(limit_mm);
            (amount_anr_l(kpa_abs, spare_l, kelvin), true)
        }
        (_, Some(limit_kpa_gauge)) => {
            let spare_kpa = kpa_abs - ambient_kpa_abs - limit_kpa_gauge;
            let volume_l = vessel.volume_l(mm);
            (amount_anr_l(spare_kpa, volume_l, kelvin), false)
        }
        _ => return None,
    };
    if loss_l_per_s.value <= 0.0 {
        return None;
    }
    let hours = |rate: f64| {
        if spare_anr_l <= 0.0 {
            0.0
        } else if rate > 0.0 {
            spare_anr_l / rate / 3600.0
        } else {
            f64::INFINITY
        }
    };
    let (low, high) = loss_l_per_s.interval_95();
    Some(Forecast {
        hours: hours(loss_l_per_s.value),
        earliest_h: hours(high),
        latest_h: hours(low),
        by_height,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::rig::VolumeModel;

    #[test]
    fn a_corner_off_its_stops_falls_in_height() {
        let vessel = Vessel {
            place: "rear_left".into(),
            volume: VolumeModel::Area {
                volume_at_zero_height_l: 2.0,
                effective_area_cm2: 100.0,
            },
            line_l: 0.0,
            volume_uncertainty: 0.0,
            lower_stop_mm: Some(-60.0),
            lowest_ok_mm: Some(-30.0),
            lowest_ok_kpa_gauge: None,
        };
        // 30 mm of 100 cm² is 0.3 L at 600 kPa and 293.15 K: 1.8 ANR L above
        // the limit. At 1.8 L in 10 h the limit is reached in 10 h.
        let loss = Estimate {
            value: 1.8 / 36_000.0,
            se: 0.0,
            degrees_of_freedom: 1e9,
        };
        let f = forecast(&vessel, &loss, 600.0, 100.0, 293.15, 0.0).expect("limit");
        assert!((f.hours - 10.0).abs() < 1e-9, "{}", f.hours);
        assert!(f.by_height);
        let low = forecast(&vessel, &loss, 600.0, 100.0, 293.15, -31.0).expect("limit");
        assert!(low.is_passed() && !f.is_passed());
    }
}
