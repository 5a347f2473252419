//! Moves: what a fill or dump did, how long it took, and the conductance behind it.

mod alike;
mod change;
mod cluster;
mod error;
mod lag;
mod measure;
mod series;
mod trend;

pub(crate) use change::{ComparedMoves, change};
pub use cluster::{Opening, cluster};
pub use measure::{MoveView, measure};
pub use series::Series;
pub use trend::{MoveTrend, trends};

/// Up or down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Direction {
    /// Tank to corner.
    Fill,
    /// Corner to outside.
    Dump,
}

impl Direction {
    /// The word the trade uses.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Direction::Fill => "fill",
            Direction::Dump => "dump",
        }
    }
}

/// One move of one circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Move {
    /// Circuit.
    pub place: String,
    /// Up or down.
    pub direction: Direction,
    /// First opening, log time ms.
    pub from_ms: i64,
    /// Last closing, log time ms.
    pub to_ms: i64,
    /// Time the valve was open, s.
    pub open_s: f64,
    /// False when inferred from pressures.
    pub wired: bool,
    /// The car drove: springs work, and the controller only corrects. `None` when
    /// no speed is recorded.
    pub driving: Option<bool>,
    /// Height before and after, mm.
    pub mm: Option<(f64, f64)>,
    /// Pressure before and after, kPa absolute.
    pub kpa_abs: (f64, f64),
    /// Time from the first opening until the corner stays within tolerance of
    /// its final height (pressure where no height is recorded), s.
    pub time_to_height_s: Option<f64>,
    /// True when that time was taken from the pressure.
    pub timed_by_pressure: bool,
    /// Time from the coil until the valve lets air pass, ms; without a height until
    /// the pressure has moved, which is later. Where readings are dense enough.
    pub response_ms: Option<f64>,
    /// Air moved, ANR L; positive into the corner.
    pub amount_anr_l: f64,
    /// Mean driving term of the flow law while open, kPa.
    pub shape_kpa: f64,
    /// Sonic conductance of the path (ISO 6358), L/(s·bar) ANR.
    pub conductance: f64,
    /// Its standard error: noise, timing, heat of the move, critical ratio and
    /// the rig's volume, L/(s·bar). The last is shared by all moves of a path.
    pub conductance_se: f64,
}
