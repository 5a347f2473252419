//! Power cuts, replayed: every change that a recording program makes to its
//! folder is noted by the shim, the power goes at random moments, and the disk
//! is rebuilt as each of three kinds of loss would leave it.

mod disk;
mod promise;
mod recorder;
mod store;
mod trace;
