//! Leak rates, compressor duty, moves and their drift from a seep recording.

pub mod analysis;
pub mod frame;
pub mod model;
pub mod output;
pub mod plain_units;
pub mod recording;
pub mod render;
