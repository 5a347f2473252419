//! The one thread that owns the log. It never ends because of an error: what it
//! cannot store waits in memory, and what does not fit there is told.

mod backlog;
mod file_change;
mod handle;
mod keep_space;
mod log_file;
mod shift;
mod state;
mod unsettled;

pub(crate) use backlog::StorageCommand;
pub(crate) use handle::{StorageHandle, start};
pub(crate) use keep_space::free_mb;
pub(crate) use log_file::LogFile;
pub(crate) use state::StorageState;
