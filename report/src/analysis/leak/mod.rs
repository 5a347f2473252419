//! Leaks: air lost by a volume at rest, as an amount and not as a pressure.

mod bend;
mod forecast;
mod plain_rest;
mod pooled;
mod prepare;

pub use super::estimate::Estimate;
pub use bend::{Bend, Closer};
pub use forecast::{Forecast, forecast};
pub use plain_rest::{PlainRest, plain_rest};
pub use pooled::PooledLeak;
pub use prepare::{Prepared, TemperatureUse, prepare};

/// 1 L/s in cm³/min.
pub const CM3_MIN_PER_L_S: f64 = 60_000.0;
