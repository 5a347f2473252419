//! `seepd run`: sources, collector, storage and the signals that steer them.

mod collector;
mod generation;
mod latest;
mod lock;
pub(crate) mod status;
mod watchdog;

pub(crate) use generation::{Plan, record};
pub(crate) use lock::check_free;

#[cfg(test)]
mod tests;
