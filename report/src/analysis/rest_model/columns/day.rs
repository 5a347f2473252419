//! Errors that follow the hour: the day's round of cabin and ground, and the sun.

use std::f64::consts::{PI, TAU};

use super::{Cause, Columns, Family, Owner, ThermometerKind};

const DAY_S: f64 = 86_400.0;
/// Solar hours of the hump of sunshine.
const SUNRISE_H: f64 = 5.5;
const SUNSHINE_H: f64 = 13.0;
/// Harmonics of the hump.
const HARMONICS: usize = 6;

impl Columns<'_> {
    /// Cosine and sine of 24 h and 12 h. **Units**: sd in K. **Source**: cabin and
    /// ground; judgement.
    pub(super) fn add_day(&mut self) {
        let sd = self.kind.pick(0.15, 0.5, 1.0);
        for k in 0..4 {
            let column: Vec<f64> = self
                .rest
                .t_s
                .iter()
                .zip(&self.rest.kelvin)
                .map(|(t, kelvin)| day_wave(*t, k) / kelvin)
                .collect();
            self.own(
                Cause::Heat,
                column.clone().into_iter().map(|x| x * sd * 0.5),
            );
            if self.kind == ThermometerKind::None {
                let all = if k < 2 { 4.0 } else { 1.6 };
                self.error(Family::Day, k, Owner::All, all, column.clone().into_iter());
            }
            let part = if k < 2 { sd } else { 0.6 * sd };
            self.error(Family::Day, k, self.this(), part, column.into_iter());
        }
    }

    /// One-sided sun: a smooth hump from 5.5 to 18.5 h of solar time as its sine
    /// series `sin(kπ(h−5.5)/13)/k^1.5`. **Units**: sd in K. **Source**: judgement.
    pub(super) fn add_sun(&mut self) {
        let sd = self.kind.pick(0.3, 4.0, 4.0) * if self.is_bag() { 1.0 } else { 0.5 };
        for k in 1..=HARMONICS {
            let waves = self.rest.t_s.iter();
            let wave: Vec<f64> = waves
                .map(|t| sun_wave(*t + self.plan.sun_shift_s, k))
                .collect();
            if wave.iter().all(|x| x.abs() <= 0.02) {
                continue;
            }
            let column = self.per_kelvin(&wave);
            self.own(
                Cause::Heat,
                column.clone().into_iter().map(|x| x * sd * 0.4),
            );
            self.error(Family::Sun, k - 1, self.this(), sd, column.into_iter());
        }
    }
}

pub(super) fn day_wave(t_s: f64, k: usize) -> f64 {
    let angle = TAU * t_s.rem_euclid(DAY_S) / DAY_S;
    match k {
        0 => angle.cos(),
        1 => angle.sin(),
        2 => (2.0 * angle).cos(),
        _ => (2.0 * angle).sin(),
    }
}

fn sun_wave(solar_s: f64, k: usize) -> f64 {
    let hour = solar_s.rem_euclid(DAY_S) / 3600.0;
    let u = (hour - SUNRISE_H) / SUNSHINE_H;
    if u > 0.0 && u < 1.0 {
        let k = k as f64;
        (k * PI * u).sin() / k.powf(1.5)
    } else {
        0.0
    }
}
