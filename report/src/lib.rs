//! Leak rates, duty, moves and diagnosis from a seep recording.

pub mod model;
