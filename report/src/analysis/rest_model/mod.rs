//! One Gaussian model of all rests of a car.
//!
//! Entry points: `fit(&Car, &Settings) -> RestModelFit` and, for one rest taken
//! apart, `decompose(&Car, &Settings, rest) -> Option<RestParts>`.

mod estimates;
mod hypothesis;
mod input;
mod parts;
mod settings;

pub use estimates::{ErrorSize, ParkEstimate, RestModelFit, TwoStates, VolumeEstimate};
pub use hypothesis::{Hypothesis, HypothesisEstimate};
pub use input::{Car, OwnMove, Rest, Thermometer, Volume};
pub use parts::RestParts;
pub use settings::Settings;
