//! Intermittent leaks: does a condition separate the rests that leak from those
//! that hold?

mod candidate;
mod cause;
mod interval;
mod separate;
mod states;

pub use candidate::Condition;
pub use interval::{RestLoss, rest_losses};
pub use separate::{Conditional, condition_of};
