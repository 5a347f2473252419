//! Intermittent leaks: does a condition separate the rests that leak from those
//! that hold?

mod candidate;
mod cause;
mod interval;
mod levels;
mod named_from;
mod separate;
mod shuffle;
mod spread;
mod states;

pub use candidate::Condition;
pub use interval::{RestLoss, rest_losses};
pub use named_from::{NamedFrom, named_from, named_from_l_per_s};
pub use separate::{Conditional, condition_of};
