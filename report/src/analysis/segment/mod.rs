//! Cutting a recording into rests, valve openings and compressor runs.

mod busy;
mod held;
mod rest;
mod spans;
mod steps;

pub use busy::Busy;
pub use rest::{LastMove, PlaceView, Resolution, Rest, RestCollector, RestPoint};
pub use spans::{OnSpan, on_spans};
