//! Restrictions that narrow, valves that get late, compressors that wear.

use super::World;
use crate::scenario::{Fault, FaultKind};

/// What wears, and the sound state it is measured from.
#[derive(Debug, Clone)]
pub struct Wear {
    /// Each with the fault that says how far.
    pub items: Vec<(Worn, Fault)>,
    /// Sound supply.
    pub supply: super::Restriction,
    /// Sound exhaust.
    pub exhaust: super::Restriction,
}

/// What a fault wears.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Worn {
    /// Line of a circuit.
    Line(usize),
    /// Its fill valve.
    Fill(usize),
    /// Its dump valve.
    Dump(usize),
    /// Lag of both its valves.
    Lag(usize),
    /// Tank outlet and supply line.
    Supply,
    /// Common exhaust.
    Exhaust,
    /// Delivery of a compressor.
    Compressor(usize),
    /// Cooling of a compressor.
    Cooling(usize),
}

impl Worn {
    /// What a fault wears, if it is of this sort.
    #[must_use]
    pub fn of(kind: FaultKind, corner: Option<usize>, compressor: usize) -> Option<Worn> {
        match (kind, corner) {
            (FaultKind::LineRestricted, Some(i)) => Some(Worn::Line(i)),
            (FaultKind::FillValveSlow, Some(i)) => Some(Worn::Fill(i)),
            (FaultKind::DumpValveSlow, Some(i)) => Some(Worn::Dump(i)),
            (FaultKind::ValvesLate, Some(i)) => Some(Worn::Lag(i)),
            (FaultKind::SupplyRestricted, _) => Some(Worn::Supply),
            (FaultKind::ExhaustRestricted, _) => Some(Worn::Exhaust),
            (FaultKind::CompressorWorn, _) => Some(Worn::Compressor(compressor)),
            (FaultKind::CompressorOverheats, _) => Some(Worn::Cooling(compressor)),
            _ => None,
        }
    }
}

/// Coil voltage at which lags are told, V; a weak supply makes valves later.
const LAG_RATED_V: f64 = 13.0;

impl World {
    /// Bring everything that wears to its state now.
    pub(super) fn apply_wear(&mut self) {
        self.supply = self.wear.supply;
        self.exhaust = self.wear.exhaust;
        for corner in &mut self.corners {
            corner.paths = corner.sound;
        }
        for compressor in &mut self.compressors {
            compressor.health = 1.0;
            compressor.airing = 1.0;
        }
        for (worn, fault) in &self.wear.items {
            let left = 1.0 + (fault.factor - 1.0) * fault.developed(self.t_s);
            match *worn {
                Worn::Line(i) => self.corners[i].paths.line.c *= left,
                Worn::Fill(i) => self.corners[i].paths.fill.c *= left,
                Worn::Dump(i) => self.corners[i].paths.dump.c *= left,
                Worn::Lag(i) => self.corners[i].paths.lag_s *= left,
                Worn::Supply => self.supply.c *= left,
                Worn::Exhaust => self.exhaust.c *= left,
                Worn::Compressor(i) => self.compressors[i].health *= left,
                Worn::Cooling(i) => self.compressors[i].airing *= left,
            }
        }
        let slower = LAG_RATED_V / self.supply_v.max(6.0);
        for corner in &mut self.corners {
            corner.fill.lag_s = corner.paths.lag_s * slower;
            corner.dump.lag_s = corner.paths.lag_s * slower;
        }
    }
}
