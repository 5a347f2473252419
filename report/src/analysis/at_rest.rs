//! A car at rest as it is judged: patterns, conditions, losses, and for each volume
//! whether it is fine.

use super::diagnose::{Conditional, RankedPattern};
use super::estimate::Estimate;
use super::leak::PooledLeak;
use super::rest_model::{HandUse, RestParts, Thermometer};

/// Hours of a night for which a volume must hold.
pub const NIGHT_H: f64 = 12.0;

/// What can be said of one volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VolumeVerdict {
    /// A fault is named there.
    Fault,
    /// Its loss is below what is tolerable, with 95 % certainty.
    Fine,
    /// Only what it loses at least is known.
    LowerBound(Missing),
    /// It may lose more than is tolerable.
    NotEnoughEvidence,
}

/// What is missing to see a leak of a corner off its stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Missing {
    /// No height is recorded.
    Height,
    /// The rig does not say how the volume follows the height.
    VolumeByHeight,
    /// The rig gives no volume at all.
    Volume,
}

/// Law by which a volume loses its air, as far as single rests tell it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeenLaw {
    /// A hole, choked at its usual pressure: the flow follows the absolute pressure.
    Choked,
    /// A hole below the critical ratio.
    SubCritical,
    /// A long thin path: the flow follows the difference of the squared pressures.
    Laminar,
    /// Both laws describe the rests.
    CannotTell,
}

/// One volume as the model sees it.
///
/// **Units**: ANR L/s, mean over its rests.
#[derive(Debug, Clone, PartialEq)]
pub struct VolumeAtRest {
    /// Circuit, or `tank`.
    pub place: String,
    /// Verdict.
    pub verdict: VolumeVerdict,
    /// Loss, all rests together.
    pub loss: PooledLeak,
    /// What it loses at most.
    pub upper_l_per_s: f64,
    /// What it may lose.
    pub tolerable_l_per_s: f64,
    /// Smallest steady leak that would be named in 95 of 100 such logs.
    pub limit_l_per_s: Option<f64>,
    /// The same of a leak in the colder part of the time, and of one after dumps.
    pub conditional_limits_l_per_s: (Option<f64>, Option<f64>),
    /// Mean loss over the loss at the usual pressure.
    pub flow_factor: f64,
    /// What stands for the temperature of its air.
    pub thermometer: Thermometer,
    /// Law of its loss.
    pub law: SeenLaw,
    /// Rests between two drives that show a loss by themselves, and all of them.
    pub proving: (usize, usize),
    /// Usual cooling of a night, K: median over the rests of six hours or more.
    pub night_cooling_k: Option<f64>,
    /// Fall of height at constant pressure by that cooling, mm.
    pub night_cooling_mm: Option<f64>,
    /// Heights or pressures are readings by hand.
    pub by_hand: bool,
}

/// One volume between two drives as the model sees it.
///
/// **Units**: times in seconds of log time; ANR L/s.
#[derive(Debug, Clone, PartialEq)]
pub struct ParkAtRest {
    /// Circuit, or `tank`.
    pub place: String,
    /// First and last reading, s.
    pub t_s: (f64, f64),
    /// Length of its rests together, s.
    pub seconds: f64,
    /// Mean loss.
    pub loss_l_per_s: Estimate,
    /// Mean loss over the loss at the usual pressure.
    pub flow_factor: f64,
    /// Longest silence within, s.
    pub longest_silence_s: f64,
    /// Only what it loses at least is known.
    pub is_lower_bound: bool,
    /// What stands for the temperature of its air.
    pub thermometer: Thermometer,
    /// Lowest to highest temperature, K.
    pub kelvin_range: f64,
    /// Heights or pressures are readings by hand.
    pub by_hand: bool,
}

/// The car at rest.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AtRest {
    /// One per volume with a rest, in the rig's order, the tank last.
    pub volumes: Vec<VolumeAtRest>,
    /// Park by park and volume by volume.
    pub parks: Vec<ParkAtRest>,
    /// Steady leaks and transfers, by falling odds.
    pub patterns: Vec<RankedPattern>,
    /// Leaks under a condition, or in some rests only.
    pub conditionals: Vec<Conditional>,
    /// Nights without power for the recorder whose fall no corner shows by its two
    /// ends, and all nights without power.
    pub unread_nights: (usize, usize),
    /// What became of readings by hand.
    pub by_hand: HandUse,
    /// Every rest of the parks in which some volume rested longest, taken apart.
    pub apart: Vec<RestParts>,
}

impl AtRest {
    /// One volume.
    #[must_use]
    pub fn volume(&self, place: &str) -> Option<&VolumeAtRest> {
        self.volumes.iter().find(|v| v.place == place)
    }
}
