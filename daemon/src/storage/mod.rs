//! The owner of the log. In a live recording it is one thread that never ends
//! because of an error: what it cannot store waits in memory, and what does not fit
//! there is counted. A replay stores at once and ends with the first error.

mod backlog;
mod file_change;
mod handle;
mod keep_space;
mod log_file;
mod origin;
mod replay_log;
mod shift;
mod state;
mod unsettled;

pub(crate) use handle::{StorageHandle, start};
pub(crate) use keep_space::free_mb;
pub(crate) use log_file::LogFile;
pub(crate) use replay_log::{ReplayLog, Target, check_log, check_target, failure};
pub(crate) use state::StorageState;
