//! `seepd run`: sources, live session, storage and the signals that steer them.

mod background;
mod event_loop;
mod health;
mod last_values;
mod live_session;
mod lock;
mod plan;
pub(crate) mod status;
mod watchdog;

pub(crate) use event_loop::record;
pub(crate) use lock::check_free;
pub(crate) use plan::Plan;

#[cfg(test)]
mod tests;
