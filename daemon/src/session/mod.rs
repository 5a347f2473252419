//! Sessions out of items: one way for a live recording and for a replay.
//!
//! A [`SessionBuilder`] turns items into [`StorageCommand`]s. A live recording
//! hands them to the storage thread, a replay executes them at once. Nothing here
//! reads a clock or touches a file.

mod builder;
mod command;
mod replay;

pub(crate) use builder::SessionBuilder;
pub(crate) use command::StorageCommand;
pub(crate) use replay::ReplaySessions;
