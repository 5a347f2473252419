//! Errors that all volumes of one park share: weather at the thermometer and outside
//! pressure, as random walks.
//!
//! A random walk over a park of length L is its Karhunen–Loève series
//! `√2 sin(ω_k u)/ω_k`, `ω_k = (k − ½)π`, `u` from 0 to 1.
//! **Source**: the closed form of Brownian motion.

use std::f64::consts::{PI, SQRT_2};

use super::day::day_wave;
use super::{Columns, SharedKey, ThermometerKind};
use crate::analysis::rest_model::input::Thermometer;

const TEMPERATURE_WAVES: usize = 6;
const PRESSURE_WAVES: usize = 4;
/// Length for which the standard deviations are stated, s.
const EIGHT_HOURS_S: f64 = 28_800.0;
/// Thermometer against the air of the volumes that it stands for, K per √(8 h).
const FAR_THERMOMETER_K: f64 = 0.35;
/// Weather without any thermometer, K per √(8 h), and its bound.
pub const WEATHER_K: f64 = 4.0;
const MOST_WEATHER_K: f64 = 6.0;
/// Outside pressure, kPa per √(8 h): by a barometer, by one asleep for more than an
/// hour, without one. **Source**: daily changes of 0.3 to 1 kPa, common practice.
const BAROMETER_KPA: f64 = 0.06;
const SLEEPING_BAROMETER_KPA: f64 = 0.25;
const NO_BAROMETER_KPA: f64 = 0.5;

impl Columns<'_> {
    pub(super) fn add_shared(&mut self) {
        let Some(&(from, to)) = self.plan.parks.get(&self.rest.park) else {
            return;
        };
        let length = (to - from).max(3600.0);
        let growth = (length / EIGHT_HOURS_S).sqrt();
        let kelvin = match self.kind {
            ThermometerKind::Own => 0.0,
            ThermometerKind::Far => FAR_THERMOMETER_K * growth,
            ThermometerKind::None => (WEATHER_K * growth).min(MOST_WEATHER_K),
        };
        if kelvin > 0.0 {
            let thermometer = self.thermometer_index();
            for wave in 0..TEMPERATURE_WAVES {
                let column = self.wave(wave, from, length, kelvin, &self.rest.kelvin);
                let key = SharedKey::Temperature { thermometer, wave };
                self.shared.push((key, column));
            }
        }
        if self.kind == ThermometerKind::None {
            self.add_days_range();
        }
        if self.rest.gauge {
            let kpa = growth * self.outside_kpa();
            for wave in 0..PRESSURE_WAVES {
                let column = self.wave(wave, from, length, kpa, &self.rest.kpa_abs);
                self.shared.push((SharedKey::Outside { wave }, column));
            }
        }
    }

    /// The day's round of this very park beside that of all days.
    fn add_days_range(&mut self) {
        let thermometer = self.thermometer_index();
        for part in 0..2 {
            let times = self.rest.t_s.iter().zip(&self.rest.kelvin);
            let column = times
                .map(|(t, kelvin)| self.plan.clear_or_overcast_k * day_wave(*t, part) / kelvin)
                .collect();
            let wave = TEMPERATURE_WAVES + part;
            let key = SharedKey::Temperature { thermometer, wave };
            self.shared.push((key, column));
        }
    }

    fn outside_kpa(&self) -> f64 {
        match self.rest.barometer_silence_s {
            Some(silence) if silence > 3600.0 => SLEEPING_BAROMETER_KPA,
            Some(_) => BAROMETER_KPA,
            None => NO_BAROMETER_KPA,
        }
    }

    fn wave(&self, wave: usize, from: f64, length: f64, sd: f64, over: &[f64]) -> Vec<f64> {
        let turn = (wave as f64 + 0.5) * PI;
        let times = self.rest.t_s.iter().zip(over);
        times
            .map(|(t, x)| (turn * (t - from) / length).sin() * SQRT_2 / turn * sd / x)
            .collect()
    }

    /// The first volume with the same thermometer stands for it.
    fn thermometer_index(&self) -> usize {
        let mine = &self.volume.thermometer;
        let all = &self.plan.car.volumes;
        match mine {
            Thermometer::Own => self.rest.volume,
            _ => all
                .iter()
                .position(|v| v.thermometer == *mine)
                .unwrap_or(self.rest.volume),
        }
    }
}
