//! Leak rates, compressor duty, moves and their drift from a seep recording.

pub mod analysis;
pub mod cache;
pub mod cli;
pub mod commands;
pub mod comparison;
pub mod conclusion;
mod defaults;
pub mod digest;
pub mod exit;
pub mod export;
pub mod findings;
pub mod judgement;
mod manual;
pub mod model;
pub mod notify;
pub mod output;
mod parallel;
mod progress;
pub mod proof;
pub mod recording;
pub mod render;
mod run;

pub use run::run;
