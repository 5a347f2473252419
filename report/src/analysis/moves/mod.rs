//! Moves: what a fill or dump did, how long it took, and the conductance behind it.

use serde::{Deserialize, Serialize};

mod alike;
mod beside;
mod change;
mod cluster;
mod comparable;
mod dead_time;
mod drives;
mod error;
mod flow_time;
mod heat;
mod lag;
mod measure;
mod pooled;
mod reference;
mod sensors;
mod series;
mod sticking;
mod trend;

pub(crate) use change::{ComparedMoves, change};
pub use cluster::{Opening, cluster};
pub(crate) use drives::{Drive, by_drive};
pub use measure::{MoveView, measure};
pub use pooled::{allow_for_dead_time, path_conductance};
pub use reference::{ReferenceMove, reference_l_per_bar};
pub use sensors::MoveSensors;
pub use series::Series;
pub use sticking::{STUCK_MS, Sticking, ValveSticking, by_valve};
pub(crate) use trend::ALIKE_BLIND;
pub use trend::{MoveTrend, TimeInterval, trends};

/// Up or down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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
    /// What that is off by.
    pub amount_error: AmountError,
    /// Mean driving term of the flow law while open, kPa.
    pub shape_kpa: f64,
    /// Sonic conductance of the path (ISO 6358), L/(s·bar) ANR.
    pub conductance: f64,
    /// Its standard error: noise, timing, heat of the move, critical ratio and
    /// the rig's volume, L/(s·bar).
    pub conductance_se: f64,
    /// The path passes at least this: without a wire it is not known for how long the
    /// valve was open, without a height not how much air lifted the car.
    pub at_least: bool,
    /// The standard error by cause, as shares of the conductance.
    pub error: ConductanceError,
    /// When air flowed.
    pub timing: Timing,
}

/// What an amount of air moved may be off by, ANR L, one standard deviation.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct AmountError {
    /// Of this move alone.
    pub own_l: f64,
    /// Shared by the moves of a circuit: one entry per cause, with its sign, in the same
    /// order for all of them; first those of the volume, then those of the sensors, last
    /// the heat of the move.
    pub shared_l: Vec<f64>,
}

/// What a conductance may be off by, as shares of it, one standard deviation.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ConductanceError {
    /// Of this move alone.
    pub own: f64,
    /// Shared by the moves of a path: one entry per cause, with its sign, in the same
    /// order for all of them.
    pub shared: Vec<f64>,
}

impl ConductanceError {
    /// All of it together.
    #[must_use]
    pub fn total(&self) -> f64 {
        let shared = self.shared.iter().map(|s| s * s).sum::<f64>();
        self.own.hypot(shared.sqrt())
    }
}

/// When air flowed in a move.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Timing {
    /// Pulses of the coil.
    pub pulses: usize,
    /// Time between readings of the coil, s; small where each change is reported.
    pub raster_s: f64,
    /// From the coil driven until air flows, ms; noise may put it below 0.
    pub starts_ms: Option<f64>,
    /// From the coil let go until none flows, ms.
    pub stops_ms: Option<f64>,
    /// Openings that let nothing pass at first.
    pub sticking: Sticking,
}

impl Timing {
    /// Standard error of the time of one pulse from the raster of its two ends, s.
    ///
    /// **Source**: an instant within a raster r has the standard deviation r/√12
    /// (JCGM 100:2008, 4.3.7).
    #[must_use]
    pub fn edge_s(&self) -> f64 {
        self.raster_s * (2.0_f64 / 12.0).sqrt()
    }
}
