//! A volume that empties within the hold, through choked and sub-critical flow.
//!
//! The curve of pressure is long enough to tell how the way out behaves: as a hole
//! (ISO 6358, sonic conductance and critical ratio) or as a narrow gap with inertia
//! (porous wall, thread, seal). The air cools while it expands and takes heat from the
//! wall, so its temperature is followed too.

mod fit;
mod law;
mod simulate;

pub use fit::{Emptying, NoEmptying, fit};
pub use law::Outlet;

/// A fall by this share of the absolute pressure is long enough for its law to show.
pub const LARGE_FALL: f64 = 0.2;

#[cfg(test)]
mod tests;
