//! From what the analyses found to sentences, evidence and the next check.

mod air;
mod by_pressure;
mod compressor;
mod conditions;
mod explanations;
mod ledger;
mod overnight;
mod paths;
mod sensors;
mod verdict;

pub use air::*;
pub use by_pressure::*;
pub use compressor::*;
pub use conditions::*;
pub use ledger::*;
pub use paths::*;
pub use sensors::*;
pub use verdict::*;

use crate::analysis::estimate::Estimate;
use crate::analysis::leak::PooledLeak;
use crate::model::{Measured, Text, Unit};

/// A place as a person reads it: `front_left` is *front left*.
#[must_use]
pub fn place_words(place: &str) -> String {
    place.replace('_', " ")
}

/// Length of the night that a loss is given for, h: the “ten hours” of sentences.
pub(crate) const NIGHT_H: f64 = 10.0;

/// An estimate with its 95 % interval in a unit.
#[must_use]
pub fn measured(estimate: &Estimate, unit: Unit) -> Measured {
    let (low, high) = estimate.interval_95();
    Measured::estimate(estimate.value, low, high, unit)
}

/// A loss as it is told: with its interval when seen, else as an upper bound.
#[must_use]
pub fn loss(estimate: &Estimate, unit: Unit) -> Measured {
    let (low, high) = estimate.interval_95();
    if low > 0.0 || high < 0.0 {
        return Measured::estimate(estimate.value, low, high, unit);
    }
    // A gain that chance made is no licence to claim less than the error allows.
    let t = crate::analysis::stats::student_t_quantile(0.95, estimate.degrees_of_freedom.max(1.0));
    Measured::below(estimate.value.max(0.0) + t * estimate.se, unit)
}

/// A whole number of a unit, for a sentence: `−3 °C`.
fn about(value: f64, unit: Unit) -> Text {
    // Adding zero takes the sign off a rounded negative zero.
    Measured::exact(value.round() + 0.0, unit).into()
}

/// Two significant digits, for a sentence.
fn rounded(value: f64) -> String {
    if value.abs() < 0.05 {
        return format!("{value:.2}");
    }
    let digits = (1.0 - value.abs().log10().floor()).max(0.0) as usize;
    format!("{value:.digits$}")
}

/// The loss of a place in a unit: of an air spring whose height is not
/// recorded only what it loses at least is known.
#[must_use]
pub fn pooled_loss(leak: &PooledLeak, estimate: &Estimate, unit: Unit) -> Measured {
    if !leak.lower_bound {
        return loss(estimate, unit);
    }
    let (low, _) = estimate.interval_95();
    if low > 0.0 {
        Measured::above(low, unit)
    } else {
        Measured::estimate(estimate.value, low, f64::INFINITY, unit)
    }
}

/// Said wherever someone is sent to look at a pressurised system.
pub(crate) const AIR_CAUTION: &str = "Never work under a car held up by air: put it on rated stands first. Let the pressure out before opening any line, wear eye protection, and have a licensed workshop do what local rules reserve for one.";
