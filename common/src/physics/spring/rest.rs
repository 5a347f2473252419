//! Where a loaded spring comes to rest with the air it holds.

use super::volume::VolumeCurve;
use super::{gauge_for_load_kpa, load_n};
use crate::physics::gas::{pressure_kpa_abs, volume_l};

/// An air spring between its stops.
#[derive(Debug, Clone, PartialEq)]
pub struct AirSpring {
    /// Volume against height.
    pub volume: VolumeCurve,
    /// Effective area that carries the load, cm².
    pub effective_area_cm2: f64,
    /// Height of the lower stop, mm: aired out.
    pub lower_stop_mm: f64,
    /// Height of the upper stop, mm: fully extended.
    pub upper_stop_mm: f64,
}

/// Which stop a spring rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// Air carries the whole load.
    None,
    /// The lower stop carries part of the load; volume fixed.
    Lower,
    /// The upper stop holds it back; volume fixed.
    Upper,
}

/// A spring at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtRest {
    /// Height, mm.
    pub height_mm: f64,
    /// Pressure, kPa absolute.
    pub kpa_abs: f64,
    /// The stop it rests on.
    pub stop: Stop,
}

impl AirSpring {
    /// Height and pressure at rest for an amount of air, a temperature, a load
    /// and the pressure outside.
    ///
    /// Off the stops the load sets the pressure and the amount sets the height:
    /// this is why a sprung corner that leaks, or cools, sinks at steady
    /// pressure. On a stop the volume is fixed and the amount sets the
    /// pressure. No friction; damping and hysteresis are the simulator's.
    ///
    /// **Units**: ANR L, K, N, kPa absolute. **Domain**: amount above 0.
    /// **Source**: ideal gas law and the balance of forces.
    ///
    /// ```
    /// use seep_common::physics::spring::{AirSpring, Stop, VolumeCurve};
    /// let spring = AirSpring {
    ///     volume: VolumeCurve::Area { at_zero_l: 2.0, effective_area_cm2: 100.0 },
    ///     effective_area_cm2: 100.0,
    ///     lower_stop_mm: -80.0,
    ///     upper_stop_mm: 100.0,
    /// };
    /// // 5000 N at 100 kPa outside: 600 kPa absolute; 12 ANR litres fill 2 L there
    /// let ride = spring.at_rest(12.0, 293.15, 5000.0, 100.0);
    /// assert!((ride.kpa_abs - 600.0).abs() < 1e-9 && ride.height_mm.abs() < 1e-9);
    /// // a tenth of the air gone: 20 mm lower at the same pressure
    /// let leaked = spring.at_rest(10.8, 293.15, 5000.0, 100.0);
    /// assert!((leaked.kpa_abs - 600.0).abs() < 1e-9);
    /// assert!((leaked.height_mm + 20.0).abs() < 1e-9);
    /// assert_eq!(spring.at_rest(2.0, 293.15, 5000.0, 100.0).stop, Stop::Lower);
    /// ```
    #[must_use]
    pub fn at_rest(&self, anr_l: f64, t_k: f64, load_n: f64, outside_kpa_abs: f64) -> AtRest {
        let free_kpa_abs = outside_kpa_abs + gauge_for_load_kpa(load_n, self.effective_area_cm2);
        let free_l = volume_l(anr_l, free_kpa_abs, t_k);
        let lowest_l = self.volume.volume_l(self.lower_stop_mm);
        let highest_l = self.volume.volume_l(self.upper_stop_mm);
        let on = |height_mm, stop_l, stop| AtRest {
            height_mm,
            kpa_abs: pressure_kpa_abs(anr_l, stop_l, t_k),
            stop,
        };
        if free_l <= lowest_l {
            return on(self.lower_stop_mm, lowest_l, Stop::Lower);
        }
        match self.volume.height_mm(free_l) {
            Some(height_mm) if free_l < highest_l => AtRest {
                height_mm,
                kpa_abs: free_kpa_abs,
                stop: Stop::None,
            },
            _ => on(self.upper_stop_mm, highest_l, Stop::Upper),
        }
    }

    /// Load the stops carry at rest, N: positive on the lower stop, negative
    /// on the upper, 0 in between.
    ///
    /// **Units**: N, kPa absolute in. **Source**: balance of forces.
    ///
    /// ```
    /// use seep_common::physics::spring::{AirSpring, VolumeCurve};
    /// let spring = AirSpring {
    ///     volume: VolumeCurve::Area { at_zero_l: 2.0, effective_area_cm2: 100.0 },
    ///     effective_area_cm2: 100.0,
    ///     lower_stop_mm: -80.0,
    ///     upper_stop_mm: 100.0,
    /// };
    /// // aired out to outside pressure: the stop carries everything
    /// let rest = spring.at_rest(1.2, 293.15, 5000.0, 100.0);
    /// assert!((spring.stop_load_n(&rest, 5000.0, 100.0) - 5000.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn stop_load_n(&self, rest: &AtRest, load: f64, outside_kpa_abs: f64) -> f64 {
        match rest.stop {
            Stop::None => 0.0,
            _ => load - load_n(rest.kpa_abs - outside_kpa_abs, self.effective_area_cm2),
        }
    }
}
