//! What the compressor delivers, and whether it delivers less than it did.

mod run;
mod trend;

pub use run::{Run, RunView, measure_run, with_fills};
pub use trend::{DeliveryTrend, trend};
