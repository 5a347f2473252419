//! The one thread that owns the log. It never ends because of an error: what it
//! cannot store waits in memory, and what does not fit there is told.

mod backlog;
mod file_change;
mod hand;
mod keep_space;
mod log;
mod shift;
mod state;
mod unsettled;

pub(crate) use backlog::Order;
pub(crate) use hand::{Hand, start};
pub(crate) use keep_space::free_mb;
pub(crate) use log::Keeping;
pub(crate) use state::StorageState;
