//! Seeded simulator of a vehicle on air, and the sample logs it writes.
//!
//! A [`scenario::Scenario`] says what the car is, what is wrong with it and what
//! it does; [`generate`] runs it through [`world::World`] and gives the bytes
//! that bus and serial line would have carried, the rig file, and the
//! [`truth::Truth`]. All data are invented.
//!
//! The same scenario gives the same bytes on every machine: noise comes from a
//! seeded generator, and every function beyond the four operations and the
//! square root from the `libm` crate.

mod controller;
mod emit;
pub mod files;
pub mod rng;
pub mod scenario;
mod sensor;
mod simulate;
pub mod truth;
pub mod world;

pub use simulate::{Logs, generate};
