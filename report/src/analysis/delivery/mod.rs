//! What the compressor delivers, and whether it delivers less than it did.

mod ending;
mod intake;
mod outside_series;
mod run;
mod runs_needed;
mod trend;

pub use ending::{RunEnd, SwitchedOff};
pub use intake::{intake_density, relative_to_mean};
pub use outside_series::OutsideSeries;
pub use run::{Run, RunView, measure_run, with_fills};
pub use runs_needed::runs_needed;
pub use trend::{DeliveryTrend, comparable, known_error, trend};
