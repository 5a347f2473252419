//! Causes of gaps: the words a log uses for them, one place for who writes them
//! and who reads them.

/// The machine was off between two sessions.
pub const POWER_OFF: &str = "power off";

/// The machine was on, the recorder was not.
pub const NOT_RUNNING: &str = "recorder not running";

/// A source said nothing for longer than it may.
pub const SOURCE_SILENT: &str = "source silent";

/// A source that sleeps with the ignition was silent, and nothing said that the
/// vehicle was awake. No trouble.
pub const ASLEEP: &str = "asleep with the ignition";

/// The recorder itself stood still: stopped by a signal, starved by other work,
/// or asleep with the machine. What arrived meanwhile without a time stamp of the
/// kernel cannot be dated and is counted, not stored.
pub const RECORDER_PAUSED: &str = "recorder paused";

/// Rows did not fit in memory while the log could not be written.
pub const NOT_STORED: &str = "log could not be written";

/// Readings of an old session were deleted by the rig's limits.
pub const DELETED: &str = "deleted to keep space";

/// Rows of a damaged file that could not be salvaged.
pub const UNREADABLE: &str = "not readable: damaged file";

/// Rows were stored, and another program destroyed them with the log.
pub const LOG_CHANGED: &str = "log changed by another program";
