//! `seepd run`, the real process, on a real serial line (a pseudo terminal).

pub(crate) mod clients;
pub(crate) mod line;
mod locks;
pub(crate) mod process;

mod faults;
pub(crate) mod file_changes;
mod notes;
mod other_users;
mod paused;
mod recording;
mod replug;
mod retention;
mod signals;
