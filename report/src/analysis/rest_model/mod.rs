//! One Gaussian model of all rests of a car.
//!
//! Entry point: `fit(&Car, &Settings) -> RestModelFit`;
//! `reduction` makes the [`Car`] of a log, the assessment follows.

mod air_lost;
mod columns;
mod covariance;
mod dates;
mod day_range;
mod estimates;
mod fit;
#[cfg(test)]
mod fixtures;
mod gram;
mod hypothesis;
mod information;
mod input;
mod limits;
mod linear;
mod model;
mod odds;
mod parameters;
mod park_estimates;
mod parts;
mod plan;
mod pooling;
mod posterior;
mod pressure_columns;
mod reduction;
mod refilled;
mod rivals;
mod scatter;
mod selection;
mod settings;
mod sized_posterior;
mod sizes;
mod spread;
mod states;
mod sun;
mod take_apart;
mod trials;
mod unrest;

pub use columns::WEATHER_K;
pub use estimates::{ErrorSize, ParkEstimate, RestModelFit, TwoStates, VolumeEstimate};
pub use fit::fit;
pub use hypothesis::{Date, Hypothesis, HypothesisEstimate, Rival};
pub use input::{Car, ModelRest, OwnMove, Thermometer, Volume};
pub use parts::RestParts;
pub use reduction::{
    HandObservation, HandUse, ReadByHand, ReducedLog, Reduction, SessionMoves, spikes,
};
pub use settings::Settings;
