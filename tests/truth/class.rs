//! Classes of cars: what of the air is recorded, and when.

use seep_sample_logs::rng::Noise;
use std::fmt;

/// Thermometers of a car.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Thermometers {
    /// One at each spring and the tank, and the outside one.
    Own,
    /// The outside one alone.
    Outside,
    /// None.
    None,
}

/// When the recorder has power.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Power {
    /// Always, or on most nights.
    Always,
    /// With the ignition.
    Ignition,
}

/// Class of a car.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Class {
    /// Heights are recorded; without them only gauges are.
    pub heights: bool,
    /// Thermometers.
    pub thermometers: Thermometers,
    /// Power.
    pub power: Power,
}

impl Class {
    /// Every class.
    pub(crate) fn all() -> Vec<Class> {
        let mut out = Vec::new();
        for heights in [true, false] {
            for thermometers in [Thermometers::Own, Thermometers::Outside, Thermometers::None] {
                for power in [Power::Always, Power::Ignition] {
                    out.push(Class {
                        heights,
                        thermometers,
                        power,
                    });
                }
            }
        }
        out
    }

    /// The class of a seed: each is as frequent.
    pub(crate) fn of_seed(seed: u64) -> Class {
        let all = Class::all();
        let at = Noise::new(seed, "class").uniform() * all.len() as f64;
        all[at as usize]
    }

    /// Gauges alone: what most owners have.
    pub(crate) fn pressure_only(self) -> bool {
        !self.heights
    }
}

impl fmt::Display for Class {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let thermometers = match self.thermometers {
            Thermometers::Own => "own thermometers",
            Thermometers::Outside => "outside thermometer",
            Thermometers::None => "no thermometer",
        };
        let heights = if self.heights {
            "heights"
        } else {
            "gauges only"
        };
        let power = match self.power {
            Power::Always => "always on",
            Power::Ignition => "ignition",
        };
        f.pad(&format!("{heights}, {thermometers}, {power}"))
    }
}
