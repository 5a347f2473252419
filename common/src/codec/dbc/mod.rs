//! DBC databases: which bits of which frame are which quantity.
//!
//! The crate `can-dbc` reads the language; fetching bits, sign, scale, floating
//! point, simple and extended multiplexing (`M`, `m0`, `m0M`, `SG_MUL_VAL_`) are
//! here and are checked against the reference library cantools.
//!
//! ```text
//! BO_ 2566805758 ASC4: 8 Vector__XXX
//!  SG_ BellowPressureFrontAxleLeft : 0|16@1+ (0.1,0) [0|6425.5] "kPa" Vector__XXX
//!      name                  start|length@order sign (scale,offset)    unit
//! ```

mod build;
mod database;
mod error;
mod groups;
mod layout;
mod message;
mod multiplex;
mod signal;
mod text;

pub use database::{Database, FoundSignal};
pub use error::{DbcError, DbcNote, FindError, SignalProblem};
pub use layout::Layout;
pub use message::{Message, UnusableSignal};
pub use signal::{Extracted, NumberKind, Raw, Signal};

/// Largest database that is read. The largest in use hold the whole of J1939
/// and stay below.
pub const MOST_DBC_BYTES: usize = 16 * 1024 * 1024;

/// The standard's own messages for vehicles on air: levels, bellow and tank
/// pressures, compressor, ambient air, speed (SAE J1939-71). In a rig it is
/// `builtin:j1939-air`.
pub const BUILTIN_J1939_AIR: &str = include_str!("j1939_air.dbc");

/// Actual pressure of NMEA 2000 (PGN 130314): compressed air by instance, and the
/// atmosphere. In a rig it is `builtin:nmea2000-air`.
///
/// **Source**: open decoders, named in the database itself.
pub const BUILTIN_NMEA2000_AIR: &str = include_str!("nmea2000_air.dbc");

/// Every built-in database: the name a rig gives it, and its text.
pub const BUILTINS: [(&str, &str); 2] = [
    ("builtin:j1939-air", BUILTIN_J1939_AIR),
    ("builtin:nmea2000-air", BUILTIN_NMEA2000_AIR),
];

/// Text of a built-in database by the name a rig gives it.
///
/// ```
/// use seep_common::codec::dbc::builtin;
/// assert!(builtin("builtin:j1939-air").is_some());
/// assert!(builtin("builtin:nmea2000-air").is_some());
/// assert!(builtin("my.dbc").is_none());
/// ```
#[must_use]
pub fn builtin(name: &str) -> Option<&'static str> {
    let known = BUILTINS.iter().find(|(known, _)| *known == name);
    known.map(|(_, text)| *text)
}

#[cfg(test)]
mod tests;
