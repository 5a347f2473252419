//! Statistics on slices: quantiles, robust location, trend, change, pooling,
//! correction for many tests.
//!
//! Everything here is a pure function. `None` means *too little data for this
//! statement*, which is an answer and no error: the caller says so in the
//! report.

mod describe;
mod holm;
mod interval;
mod kendall;
mod lag;
mod mann_kendall;
mod median_interval;
mod prediction;
mod quantile;
#[cfg(test)]
mod rng;
mod short_term;
mod theil_sen;

pub(crate) use describe::centred;
pub use describe::{mean, median, quantile, robust_sd, sd};
pub use holm::holm;
pub use interval::Interval;
pub use kendall::{Kendall, kendall};
pub use lag::{effective_sample_size, lag1_autocorrelation};
pub use mann_kendall::{MannKendall, mann_kendall};
pub use median_interval::median_interval;
pub use prediction::{next_value, share_interval};
pub use quantile::{
    normal_quantile, normal_two_sided_p, student_t_quantile, student_t_two_sided_p,
};
#[cfg(test)]
pub(crate) use rng::SplitMix64;
pub use short_term::short_term_sd;
pub use theil_sen::{TheilSen, theil_sen};

#[cfg(test)]
mod tests;
