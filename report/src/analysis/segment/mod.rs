//! Cutting a recording into rests, valve openings and compressor runs.

mod busy;
mod rest;
mod spans;

pub use busy::Busy;
pub use rest::{LastMove, PlaceView, Rest, RestCollector, RestPoint};
pub use spans::{OnSpan, on_spans};
