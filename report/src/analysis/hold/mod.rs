//! A deliberate hold of some minutes: valves closed, a technician waiting beside it.
//!
//! The fall of absolute pressure (of the amount of air, where the height is recorded)
//! is a straight line in `ln p` against the flow that one unit of conductance would
//! have passed. Air that has just been moved is hot or cold and rubber creeps; both
//! make a fall of the same shape as a leak, so they stand in the fit as disturbances of
//! known size. What they leave is the smallest leak that this hold can show: with one
//! minute after a fill it is large, and the report says so.
//!
//! A volume that empties within the hold is followed by [`emptying`], through choked
//! and sub-critical flow.

pub mod emptying;
mod estimate;
mod input;
mod limit;
mod plain;
mod regression;
mod settling;
mod slow;

pub use estimate::{HoldEstimate, NoHold, estimate};
pub use input::{AirSpring, Conditions, HoldThermometer, Readings};
pub use limit::{Design, NAMED_AT, detection_limit, expected_limit};
pub use plain::{PlainFall, plain_fall};

#[cfg(test)]
mod tests;
