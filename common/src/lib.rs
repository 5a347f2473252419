//! The vocabulary and the pure core of seep.
//!
//! Everything the recorder, the report and the simulator agree on lives here:
//! units, the channel catalogue, the rig (what the vehicle is), the codecs that
//! turn bytes into readings, the tick assembler, the physics of air in volumes
//! and, with feature `store`, the SQLite log.
//!
//! Conventions, stated once:
//! - **Units are in names**: `tank_kpa_abs`, `height_mm`, `t_ms`, `volume_l`.
//! - **Intervals are half-open**: `[start, end)`; a tick at `t_ms` holds what
//!   arrived from `t_ms` until the next tick.
//! - **Silence is NULL**: a channel that said nothing fresh in a tick has no
//!   value there. A value is never held over.
//!
//! Without features this crate does no I/O, reads no clock and prints nothing.

pub mod channel;
pub mod codec;
pub mod defaults;
pub mod file_key;
pub mod physics;
pub mod quantum;
pub mod rig;
pub mod sample;
#[cfg(feature = "store")]
#[allow(
    clippy::disallowed_methods,
    reason = "the store is the one room that does I/O"
)]
pub mod store;
pub mod text;
#[cfg(feature = "store")]
#[allow(
    clippy::disallowed_methods,
    reason = "files named by a person, read for the programs"
)]
pub mod text_file;
pub mod tick;
pub mod time;
pub mod units;
