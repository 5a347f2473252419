//! From a log to the rests of a car, session by session.
//!
//! Readings are cleaned of spikes, drives and own moves are cut out, and what is
//! left of each volume becomes at most about 60 means. Temperatures, outside
//! pressure and pressures of other volumes are means of minutes with straight lines
//! between them.

mod by_hand;
mod car;
mod collector;
mod drives;
mod heat;
mod lag;
mod means;
mod minutes;
mod noise;
mod open;
mod plan;
mod quiet;
mod session_moves;
mod silences;
mod spikes;
mod stuck;
mod surroundings;
mod unseen_moves;

pub use by_hand::{HandObservation, HandUse, ReadByHand};
pub use collector::Reduction;
pub use session_moves::SessionMoves;
pub use spikes::spikes;

use super::input::Car;
use serde::{Deserialize, Serialize};

/// A log, reduced.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ReducedLog {
    /// What the model takes.
    pub car: Car,
    /// Drives found.
    pub drives: usize,
    /// Readings left out as spikes.
    pub spikes: u64,
    /// Readings left out of a sensor that stuck through a move.
    pub stuck: u64,
    /// Stretches at rest that were shorter than 20 minutes or had fewer than eight
    /// readings.
    pub rests_left_out: u64,
    /// What became of readings by hand.
    pub by_hand: HandUse,
}
