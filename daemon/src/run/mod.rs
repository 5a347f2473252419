//! `seepd run`: sources, collector, storage and the signals that steer them.

mod background;
mod collector;
mod event_loop;
mod health;
mod last_values;
mod lock;
mod plan;
pub(crate) mod status;
mod watchdog;

pub(crate) use event_loop::record;
pub(crate) use lock::check_free;
pub(crate) use plan::Plan;

#[cfg(test)]
mod tests;
