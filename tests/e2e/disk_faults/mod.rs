//! `seepd run`, the real process, on a disk that fails: calls on the log are
//! made to fail or to wait by the shim, for a while, and then no more.

mod bench;

mod every_nth;
mod stop;
mod unreadable;
mod waiting;
