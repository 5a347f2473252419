//! `seepd run`, the real process, on a real serial line (a pseudo terminal).

mod line;
mod process;

mod faults;
mod recording;
mod replug;
