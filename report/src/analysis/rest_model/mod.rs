//! One Gaussian model of all rests of a car.

mod input;

pub use input::{Car, OwnMove, Rest, Thermometer, Volume};
