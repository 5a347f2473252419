//! Ways for air to go where it should not.

use super::World;
use super::air::{HEAT_AT_PRESSURE, REFERENCE_K, mass_of_anr_litres};
use super::constants::ZERO_CELSIUS_K;
use super::flow::{LeakLaw, Restriction};
use crate::scenario::{Fault, Law, When};

/// A volume, or the outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The tank.
    Tank,
    /// A circuit by number.
    Corner(usize),
    /// The surrounding air.
    Outside,
}

/// One leak.
#[derive(Debug, Clone)]
pub struct Leak {
    /// Where air is lost when the pressure there is higher.
    pub from: Place,
    /// Where it goes.
    pub to: Place,
    /// Its law when fully developed.
    pub law: LeakLaw,
    /// The fault it comes from; `None` for the seepage of a sound circuit.
    pub fault: Option<usize>,
    /// When it is open, and how it develops.
    pub rule: Option<Fault>,
    /// For a valve that does not reseat: it hangs now.
    pub hangs: bool,
    /// Air lost through it since the start, kg (net, from `from` to `to`).
    pub passed_kg: f64,
    /// Time it was open, s.
    pub open_s: f64,
}

/// Pressure outside when leak rates are told, Pa.
const TOLD_OUTSIDE_PA: f64 = 101_325.0;

/// The law that passes `anr_cm3_min` from `gauge_pa` to the outside at 20 °C.
#[must_use]
pub fn law_for(law: Law, b: f64, anr_cm3_min: f64, gauge_pa: f64) -> LeakLaw {
    let kg_s = mass_of_anr_litres(anr_cm3_min / 1000.0) / 60.0;
    let inside_pa = TOLD_OUTSIDE_PA + gauge_pa;
    let unit = match law {
        Law::Orifice => LeakLaw::Orifice(Restriction { c: 1e-12, b }),
        Law::Laminar => LeakLaw::Laminar { k: 1e-18 },
    };
    let scale = kg_s / unit.flow(inside_pa, REFERENCE_K, TOLD_OUTSIDE_PA, REFERENCE_K);
    scaled(unit, scale)
}

fn scaled(law: LeakLaw, scale: f64) -> LeakLaw {
    match law {
        LeakLaw::Orifice(hole) => LeakLaw::Orifice(hole.opened(scale)),
        LeakLaw::Laminar { k } => LeakLaw::Laminar { k: k * scale },
    }
}

impl World {
    /// Let every open leak pass air for `dt_s`.
    pub(super) fn pass_leaks(&mut self, driving: bool, dt_s: f64) {
        for i in 0..self.leaks.len() {
            let open = self.openness(&self.leaks[i], driving);
            if open <= 0.0 {
                continue;
            }
            let leak = &self.leaks[i];
            let (from, to) = (leak.from, leak.to);
            let ((from_pa, from_k), (to_pa, to_k)) = (self.state(from), self.state(to));
            let kg = dt_s * open * leak.law.flow(from_pa, from_k, to_pa, to_k);
            let upstream_k = if kg >= 0.0 { from_k } else { to_k };
            self.put(from, -kg, upstream_k);
            self.put(to, kg, upstream_k);
            self.leaks[i].passed_kg += kg;
            self.leaks[i].open_s += dt_s;
        }
    }

    /// Share of its full size a leak has now.
    fn openness(&self, leak: &Leak, driving: bool) -> f64 {
        let Some(rule) = &leak.rule else { return 1.0 };
        let place_k = match leak.from {
            Place::Corner(i) => self.corners[i].place_k,
            Place::Tank | Place::Outside => self.tank.place_k,
        };
        let open = match rule.when {
            When::Always => true,
            When::Cold => place_k < rule.below_c + ZERO_CELSIUS_K,
            When::AfterDump => leak.hangs,
            When::Driving => driving,
            When::Low => match leak.from {
                Place::Corner(i) => 1000.0 * self.corners[i].height_m < rule.below_mm,
                Place::Tank | Place::Outside => false,
            },
        };
        if open { rule.developed(self.t_s) } else { 0.0 }
    }

    /// Pressure, Pa, and temperature, K, of a place.
    #[must_use]
    pub fn state(&self, place: Place) -> (f64, f64) {
        match place {
            Place::Tank => (self.tank.pa(), self.tank.air.kelvin()),
            Place::Corner(i) => (self.corners[i].pa(), self.corners[i].air.kelvin()),
            Place::Outside => (self.weather.pa, self.weather.kelvin),
        }
    }

    fn put(&mut self, place: Place, kg: f64, kelvin: f64) {
        match place {
            Place::Tank => self.tank.air.put(kg, kelvin),
            Place::Corner(i) => self.corners[i].air.put(kg, kelvin),
            Place::Outside => self.vented_j += kg * kelvin * HEAT_AT_PRESSURE,
        }
    }

    /// A dump valve just closed: does it hang?
    pub(super) fn after_dump(&mut self, corner: usize) {
        for leak in &mut self.leaks {
            if let Some(rule) = &leak.rule
                && rule.when == When::AfterDump
                && leak.from == Place::Corner(corner)
            {
                leak.hangs = self.luck.chance(rule.chance);
            }
        }
    }

    /// A fill valve opened: the burst of air reseats a hanging dump valve.
    pub(super) fn after_fill(&mut self, corner: usize) {
        for leak in &mut self.leaks {
            if leak.from == Place::Corner(corner) {
                leak.hangs = false;
            }
        }
    }
}
