//! Leaks: air lost by a volume at rest, as an amount and not as a pressure.

mod forecast;
mod model;
mod nuisance;
mod plain_decay;
mod pool;
mod prepare;
mod rest_fit;
mod systematic;

pub use super::estimate::Estimate;
pub use forecast::{Forecast, forecast};
pub use pool::{PooledLeak, pool};
pub use prepare::{Prepared, TemperatureUse, prepare};
pub use rest_fit::{LeakFit, LeakLaw, fit_rest};
pub use systematic::UNRECORDED_SWING_K;

/// 1 L/s in cm³/min.
pub const CM3_MIN_PER_L_S: f64 = 60_000.0;
