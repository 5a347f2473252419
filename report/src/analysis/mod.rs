//! Analyses: pure functions on slices. No files, no clock, no column engine.

pub mod air;
pub mod at_rest;
pub(crate) mod count;
pub mod delivery;
pub mod diagnose;
pub mod duty;
pub mod estimate;
pub(crate) mod extremes;
pub mod fit;
pub mod hold;
pub mod leak;
pub mod ledger;
pub mod moves;
pub mod positions;
pub(crate) mod regression;
pub mod rest_model;
pub(crate) mod robust;
pub mod segment;
pub mod side_to_side;
pub mod stats;
mod volume_error;
pub mod volumes;
