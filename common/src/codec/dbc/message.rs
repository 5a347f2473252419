//! One message: which frames are it, and what it holds.

use super::error::SignalProblem;
use super::signal::Signal;
use crate::codec::j1939::pgn_of;

/// A message of a database.
#[derive(Debug, Clone, PartialEq)]
pub struct Message {
    /// Name in the database.
    pub name: String,
    /// Identifier without flag bits.
    pub id: u32,
    /// True for a 29 bit identifier.
    pub extended: bool,
    /// Length, bytes.
    pub length: u64,
    /// True when frames are matched by parameter group, whatever their priority,
    /// sender and destination, and special values are no readings.
    pub by_group: bool,
    /// Line in the database, from 1 (0 when not known).
    pub line: usize,
    /// Signals that can be decoded.
    pub signals: Vec<Signal>,
    /// Signals that cannot.
    pub unusable: Vec<UnusableSignal>,
}

/// A signal that cannot be decoded, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct UnusableSignal {
    /// Name in the database.
    pub name: String,
    /// Line, from 1 (0 when not known).
    pub line: usize,
    /// Why not.
    pub problem: SignalProblem,
}

impl Message {
    /// True when a frame with this identifier is this message.
    ///
    /// ```
    /// use seep_common::codec::dbc::{BUILTIN_J1939_AIR, Database};
    /// let db = Database::parse("builtin:j1939-air", BUILTIN_J1939_AIR).unwrap();
    /// let asc4 = db.messages().iter().find(|m| m.name == "ASC4").unwrap();
    /// assert!(asc4.matches(0x18FE_58FE, true));
    /// assert!(asc4.matches(0x0CFE_582F, true)); // other priority and sender
    /// assert!(!asc4.matches(0x18FE_59FE, true));
    /// ```
    #[must_use]
    pub fn matches(&self, id: u32, extended: bool) -> bool {
        extended == self.extended
            && match self.pgn() {
                Some(pgn) => pgn_of(id) == pgn,
                None => id == self.id,
            }
    }

    /// Parameter group number when frames are matched by group.
    #[must_use]
    pub fn pgn(&self) -> Option<u32> {
        (self.by_group && self.extended).then(|| pgn_of(self.id))
    }
}
