//! The car as physics: air in volumes, springs under load, valves, compressors,
//! leaks, heat and weather, integrated in small steps.
//!
//! Richer on purpose than anything the report fits: air and skin exchange heat
//! with two time constants, springs stick and bulge, valves share a supply and
//! answer late, people get in. Nothing is ever taken from a closed-form decay.

mod air;
mod atmosphere;
mod body;
mod build;
mod compressor;
mod constants;
mod corner;
mod flow;
mod front;
mod leak;
mod manifold;
mod read;
mod road;
mod rubber;
mod spring;
mod sun;
#[cfg(test)]
mod tests;
mod valve;
mod warmth;
mod water;
mod wear;
mod weather;

pub use air::{
    Air, GAS_CONSTANT, HEAT_AT_PRESSURE, HEAT_AT_VOLUME, REFERENCE_DENSITY, REFERENCE_K,
    REFERENCE_PA, Skin, anr_litres, mass_of_anr_litres,
};
pub use compressor::Compressor;
pub(crate) use constants::PSI_KPA;
pub use constants::ZERO_CELSIUS_K;
pub use corner::{Corner, Paths, UNIT};
pub use flow::{LeakLaw, Restriction, SI_PER_L_S_BAR};
pub use leak::{Leak, Place, law_for};
pub use road::Road;
pub use spring::Spring;
pub use valve::Valve;
pub use warmth::Warmth;
pub use wear::{Wear, Worn};
pub use weather::Weather;

use crate::rng::Noise;
use sun::Sun;
use warmth::Heating;
use weather::follow;

/// The tank.
#[derive(Debug, Clone)]
pub struct Tank {
    /// Volume, m³.
    pub m3: f64,
    /// The air in it.
    pub air: Air,
    /// Its shell.
    pub shell: Skin,
    /// Temperature of its surroundings, K.
    pub place_k: f64,
    /// How fast the surroundings follow the weather, s.
    pub place_s: f64,
    /// Heat stored near it.
    pub warmth: Warmth,
    /// Water stands in it.
    pub wet: bool,
}

impl Tank {
    /// Absolute pressure, Pa.
    #[must_use]
    pub fn pa(&self) -> f64 {
        self.air.pa(self.m3)
    }
}

/// What the driver does while a step passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drive {
    /// Speed in flowing traffic, km/h.
    pub flow_kmh: f64,
    /// Since the ignition came on, s.
    pub into_s: f64,
    /// Until it goes off, s.
    pub left_s: f64,
    /// Altitude now, m.
    pub altitude_m: f64,
}

/// Everything that moves.
#[derive(Debug, Clone)]
pub struct World {
    /// Since the start, s.
    pub t_s: f64,
    /// Unix time of the start, s.
    pub start_unix_s: f64,
    /// The tank.
    pub tank: Tank,
    /// The circuits.
    pub corners: Vec<Corner>,
    /// The compressors.
    pub compressors: Vec<Compressor>,
    /// Air each compressor delivered since the start, kg.
    pub delivered_kg: Vec<f64>,
    /// Tank outlet and supply line now.
    pub supply: Restriction,
    /// Common exhaust now.
    pub exhaust: Restriction,
    /// Leaks.
    pub leaks: Vec<Leak>,
    /// What wears or clogs.
    pub wear: Wear,
    /// The outside.
    pub weather: Weather,
    /// The road.
    pub road: Road,
    /// Supply voltage, V.
    pub supply_v: f64,
    /// Temperature at the box, K.
    pub box_k: f64,
    /// Heat stored near the box.
    pub box_warmth: Warmth,
    /// Where the nose points, degrees from north.
    pub heading_deg: f64,
    /// Load shifted across the diagonal by twist, N/m.
    pub twist_n_m: f64,
    /// Anti-roll bars, N/m.
    pub anti_roll_n_m: f64,
    /// Body movement at 60 km/h, one standard deviation, m.
    pub road_m: f64,
    /// Share of friction left on the road.
    pub shaken_friction: f64,
    /// Fuel burnt while driving, kg/s, off each circuit of the last axle.
    pub fuel_kg_s: Vec<f64>,
    /// Energy that left with vented air less what came in, J (for the books).
    pub vented_j: f64,
    /// Energy the compressors brought, J (for the books).
    pub delivered_j: f64,
    /// Heat that came in through the skins, J (for the books).
    pub heat_j: f64,
    /// Work the springs' movement did on the air, J (for the books).
    pub work_j: f64,
    pub(crate) luck: Noise,
    driven: bool,
    slow_s: f64,
}

/// Weather, surroundings and wear are brought up to date this often, s.
const SLOW_STEP_S: f64 = 1.0;

/// Surroundings of the springs follow the weather with this time constant, s.
const WHEEL_ARCH_S: f64 = 900.0;

/// Surroundings of the box, s; it warms itself a little, K.
const BOX_S: f64 = 600.0;
const BOX_WARMTH_K: f64 = 0.6;

impl World {
    /// Let `dt_s` pass.
    pub fn step(&mut self, drive: Option<Drive>, dt_s: f64) {
        self.t_s += dt_s;
        self.slow_s += dt_s;
        self.driven = drive.is_some();
        if self.slow_s >= SLOW_STEP_S {
            self.step_slow();
        }
        if let Some(drive) = drive {
            self.weather.altitude_m = drive.altitude_m;
            self.road
                .drive(drive.flow_kmh, drive.into_s, drive.left_s, dt_s);
            for (corner, burnt) in self.corners.iter_mut().zip(&self.fuel_kg_s) {
                corner.extra_kg -= burnt * dt_s;
            }
        }
        self.step_supply(drive.is_some());
        self.step_compressors(dt_s);
        if !self.all_shut() {
            self.step_valves(dt_s);
        }
        self.pass_leaks(drive.is_some(), dt_s);
        self.step_rubber(dt_s);
        self.step_springs(dt_s);
        self.step_heat(dt_s);
    }

    /// All valves are shut.
    #[must_use]
    pub fn all_shut(&self) -> bool {
        self.corners.iter().all(Corner::is_shut)
    }

    /// Some compressor runs.
    #[must_use]
    pub fn pumping(&self) -> bool {
        self.compressors.iter().any(Compressor::running)
    }

    fn step_slow(&mut self) {
        let dt_s = std::mem::take(&mut self.slow_s);
        self.weather.step(self.start_unix_s + self.t_s, dt_s);
        let outside_k = self.weather.kelvin;
        let heating = self.heating();
        for corner in &mut self.corners {
            let warmer_k = corner.warmth.step(&heating, dt_s);
            follow(
                &mut corner.place_k,
                outside_k + warmer_k,
                WHEEL_ARCH_S,
                dt_s,
            );
        }
        let (place_s, warmer_k) = (self.tank.place_s, self.tank.warmth.step(&heating, dt_s));
        follow(&mut self.tank.place_k, outside_k + warmer_k, place_s, dt_s);
        let warmer_k = BOX_WARMTH_K + self.box_warmth.step(&heating, dt_s);
        follow(&mut self.box_k, outside_k + warmer_k, BOX_S, dt_s);
        self.apply_wear();
    }

    fn heating(&self) -> Heating {
        let (latitude_deg, horizon_deg) = self.weather.sky_deg();
        Heating {
            kmh: self.driven.then_some(self.road.kmh),
            heading: self.heading_deg.to_radians(),
            sun: Sun::at(self.start_unix_s + self.t_s, latitude_deg),
            horizon_deg,
            clear: self.weather.clear(),
        }
    }

    /// Battery or generator, and what the consumers draw down.
    fn step_supply(&mut self, driving: bool) {
        let running = self.compressors.iter().filter(|c| c.running()).count() as f64;
        self.supply_v = if driving {
            14.0 - 0.12 * running
        } else {
            12.55 - 0.45 * running
        };
    }

    fn step_compressors(&mut self, dt_s: f64) {
        let outside_k = self.tank.place_k;
        for (i, compressor) in self.compressors.iter_mut().enumerate() {
            let (kg_s, kelvin) =
                compressor.delivery(self.tank.pa(), self.weather.pa, outside_k, self.supply_v);
            if kg_s > 0.0 {
                self.tank.air.put(kg_s * dt_s, kelvin);
                self.delivered_kg[i] += kg_s * dt_s;
                self.delivered_j += kg_s * dt_s * kelvin * HEAT_AT_PRESSURE;
            }
            compressor.step(outside_k, dt_s);
        }
    }

    fn step_valves(&mut self, dt_s: f64) {
        let before: Vec<(f64, f64)> = self
            .corners
            .iter()
            .map(|c| (c.fill.opening, c.dump.opening))
            .collect();
        self.pass_valves(dt_s);
        for (i, (fill, dump)) in before.into_iter().enumerate() {
            if fill <= 0.0 && self.corners[i].fill.opening > 0.0 {
                self.after_fill(i);
            }
            if dump > 0.0 && self.corners[i].dump.opening <= 0.0 {
                self.after_dump(i);
            }
        }
    }

    fn step_heat(&mut self, dt_s: f64) {
        for c in &mut self.corners {
            self.heat_j += c.skin.exchange(&mut c.air, c.place_k, dt_s);
        }
        let tank = &mut self.tank;
        self.heat_j += tank.shell.exchange(&mut tank.air, tank.place_k, dt_s);
    }
}
