//! One circuit: spring, air, skin and its two valves.

use super::air::{Air, Skin};
use super::constants::GRAVITY;
use super::flow::Restriction;
use super::rubber::Rubber;
use super::spring::Spring;
use super::valve::Valve;
use super::warmth::Warmth;

/// One air spring with its valves.
#[derive(Debug, Clone)]
pub struct Corner {
    /// Force and volume against height.
    pub spring: Spring,
    /// The air in it.
    pub air: Air,
    /// What the air touches.
    pub skin: Skin,
    /// Temperature of its surroundings, K.
    pub place_k: f64,
    /// Heat stored near it.
    pub warmth: Warmth,
    pub(super) rubber: Rubber,
    /// Height of the ground under its wheel, m.
    pub ground_m: f64,
    /// Vapour over dry air in what was filled, by pressure.
    pub(super) vapour_share: f64,
    /// Height, m.
    pub height_m: f64,
    /// Sprung mass of the empty car on it, kg.
    pub mass_kg: f64,
    /// People, luggage, fuel burnt, kg.
    pub extra_kg: f64,
    /// The other circuit of the axle, if there is exactly one.
    pub partner: Option<usize>,
    /// Fill valve.
    pub fill: Valve,
    /// Dump valve.
    pub dump: Valve,
    /// What is left of the valves and the line now.
    pub paths: Paths,
    /// Valves and line when sound.
    pub sound: Paths,
    /// Air that came by the fill valve, kg, since the start.
    pub filled_kg: f64,
    /// Air that went by the dump valve, kg, since the start.
    pub dumped_kg: f64,
    /// Air that [`UNIT`] in place of the fill path would have passed, kg.
    pub fill_unit_kg: f64,
    /// The same for the dump path.
    pub dump_unit_kg: f64,
}

/// Restrictions of a circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paths {
    /// Fill valve, fully open.
    pub fill: Restriction,
    /// Dump valve, fully open.
    pub dump: Restriction,
    /// Line and fittings.
    pub line: Restriction,
    /// Lag of both valves, s.
    pub lag_s: f64,
}

/// Conductance of 1 L/(s·bar): what true conductances are measured against.
pub const UNIT: f64 = super::flow::SI_PER_L_S_BAR;

impl Corner {
    /// Volume now, m³.
    #[must_use]
    pub fn m3(&self) -> f64 {
        self.spring.volume(self.height_m)
    }

    /// Absolute pressure now, Pa.
    #[must_use]
    pub fn pa(&self) -> f64 {
        self.air.pa(self.m3())
    }

    /// Weight on it, N, without what the anti-roll bar shifts.
    #[must_use]
    pub fn weight_n(&self) -> f64 {
        (self.mass_kg + self.extra_kg) * GRAVITY
    }

    /// Both valves are shut and stay so.
    #[must_use]
    pub fn is_shut(&self) -> bool {
        self.fill.is_shut() && self.dump.is_shut()
    }
}
