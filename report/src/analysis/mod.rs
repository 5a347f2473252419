//! Analyses: pure functions on slices. No files, no clock, no column engine.

pub mod segment;
