//! What a run records.

use crate::clock::Clock;
use crate::databases::Databases;
use seep_common::rig::Rig;
use std::path::PathBuf;
use std::sync::Arc;

/// What to record, and where things are.
pub(crate) struct Plan {
    pub rig_path: PathBuf,
    pub rig: Rig,
    pub databases: Databases,
    pub log: PathBuf,
    pub status_file: Option<PathBuf>,
    pub clock: Arc<dyn Clock>,
    pub synced: fn() -> bool,
}
