//! Ways in which air is lost by a car at rest, as the report names them.

use super::super::estimate::Estimate;
use crate::conclusion::Conclusion;

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
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Condition {
    /// Colder than a temperature, °C.
    Colder(f64),
    /// The valve moved last was the dump valve.
    AfterDump,
    /// Height below a value, mm.
    HeightBelow(f64),
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
    /// Probability of the leak.
    pub probability: f64,
    /// Rests that leak and rests that hold, of those that can tell.
    pub certain: Option<(usize, usize)>,
}
