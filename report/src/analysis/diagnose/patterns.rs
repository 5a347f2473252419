//! Ways in which air is lost by a car at rest, as the report names them.

use super::super::estimate::Estimate;
use crate::conclusion::Conclusion;
use crate::model::WallTime;

/// A pattern found, and what speaks against its rivals.
#[derive(Debug, Clone, PartialEq)]
pub struct RankedPattern {
    /// The pattern.
    pub pattern: Conclusion,
    /// Flow of the pattern, ANR L/s, from all volumes it touches.
    pub flow_l_per_s: Estimate,
    /// Probability of the pattern.
    pub probability: f64,
    /// The other patterns by likelihood, best first, with their shares.
    pub rivals: Vec<(Conclusion, f64)>,
}

/// A condition under which a volume leaks.
#[derive(Debug, Clone, PartialEq)]
pub enum Condition {
    /// Colder than a temperature, °C.
    Colder(f64),
    /// The valve moved last was the dump valve.
    AfterDump,
    /// Height below a value, mm.
    HeightBelow(f64),
    /// Only since a day.
    Began(Dated),
    /// Only until a day.
    Ended(Dated),
}

/// A moment with its 95 % interval.
#[derive(Debug, Clone, PartialEq)]
pub struct Dated {
    /// From the beginning of the log, days.
    pub days_in: f64,
    /// First, likeliest, last moment; `None` for a log without a clock.
    pub wall: Option<[WallTime; 3]>,
}

/// A leak with its condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditional {
    /// Circuit, or `tank`.
    pub place: String,
    /// When it leaks; `None`: nothing recorded goes with it.
    pub condition: Option<Condition>,
    /// Loss while the condition holds, ANR L/s.
    pub open_l_per_s: Estimate,
    /// Loss while it does not.
    pub shut_l_per_s: Estimate,
    /// Probability of the leak and its condition.
    pub probability: f64,
    /// What else it could be, with its share: another condition, `None` for a steady
    /// leak or one that grows.
    pub rivals: Vec<(Option<Condition>, f64)>,
    /// Rests that leak and rests that hold, of those that can tell.
    pub certain: Option<(usize, usize)>,
}
