//! `seepd run`, the real process, on a real serial line (a pseudo terminal).

pub(crate) mod line;
pub(crate) mod process;

mod faults;
mod recording;
mod replug;
