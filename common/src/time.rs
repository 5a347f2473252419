//! The three clocks of a log, each a type of its own.
//!
//! A time keeps its type from the source that dates a reading to the row that
//! stores it, so that no time of one clock stands where another's is meant. A
//! duration is a plain `i64`, named in ms. Behind the reader of the store, columns
//! of log times are plain numbers (`t_ms`): an analysis has one clock only.
//!
//! ```compile_fail,E0308
//! use seep_common::time::{BootMs, LogMs};
//! let stored: LogMs = BootMs(5);
//! ```
//! ```compile_fail,E0308
//! use seep_common::time::{LogMs, WallMs};
//! WallMs(5).since(LogMs(3));
//! ```
//! ```compile_fail,E0308
//! use seep_common::time::{BootMs, WallMs};
//! assert!(WallMs(5) > BootMs(3));
//! ```
//! ```compile_fail,E0308
//! use seep_common::time::LogMs;
//! let number: i64 = LogMs(5);
//! ```

use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! clocks {
    ($( $(#[$doc:meta])+ $clock:ident; )+) => { $(
        $(#[$doc])+
        #[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[derive(Serialize, Deserialize)]
        pub struct $clock(pub i64);

        impl $clock {
            /// Before every time of this clock.
            pub const MIN: Self = Self(i64::MIN);
            /// After every time of this clock.
            pub const MAX: Self = Self(i64::MAX);

            /// Returns the time since another one of the same clock, ms; negative
            /// when that is later. At the ends of the number range it stays there.
            #[must_use]
            pub const fn since(self, earlier: Self) -> i64 {
                self.0.saturating_sub(earlier.0)
            }

            /// Returns the time that is `ms` later, or earlier with a negative `ms`.
            /// At the ends of the number range it stays there.
            #[must_use]
            pub const fn plus(self, ms: i64) -> Self {
                Self(self.0.saturating_add(ms))
            }
        }

        impl From<$clock> for i64 {
            fn from(time: $clock) -> i64 {
                time.0
            }
        }

        impl fmt::Display for $clock {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    )+ };
}

clocks! {
    /// Time since the machine started, suspend included, ms (`CLOCK_BOOTTIME`).
    ///
    /// It never steps and dates every reading. In a replay the recording's own
    /// time takes its place.
    ///
    /// **Source**: Linux manual, `clock_gettime(2)`.
    BootMs;
    /// The log's own order: boot time plus a constant of the session, ms.
    ///
    /// It never repeats and never goes back. Every row of a log is stored at it.
    LogMs;
    /// Time since 1970-01-01 00:00 UTC as a clock believes it, ms.
    ///
    /// It may be wrong and may step; it is only ever noted beside the others.
    WallMs;
}

impl BootMs {
    /// Returns the log time of a session whose log time is boot time plus `shift_ms`.
    ///
    /// ```
    /// use seep_common::time::{BootMs, LogMs};
    /// assert_eq!(BootMs(5).on_log(1_000), LogMs(1_005));
    /// assert_eq!(LogMs(1_005).on_boot(1_000), BootMs(5));
    /// assert_eq!(LogMs(1_005).minus_boot(BootMs(5)), 1_000);
    /// ```
    #[must_use]
    pub const fn on_log(self, shift_ms: i64) -> LogMs {
        LogMs(self.0.saturating_add(shift_ms))
    }

    /// Returns the wall time of a clock that is boot time plus `offset_ms`.
    #[must_use]
    pub const fn on_wall(self, offset_ms: i64) -> WallMs {
        WallMs(self.0.saturating_add(offset_ms))
    }
}

impl LogMs {
    /// Returns the boot time of a session whose log time is boot time plus `shift_ms`.
    #[must_use]
    pub const fn on_boot(self, shift_ms: i64) -> BootMs {
        BootMs(self.0.saturating_sub(shift_ms))
    }

    /// Returns log time minus boot time at one moment, ms.
    #[must_use]
    pub const fn minus_boot(self, boot: BootMs) -> i64 {
        self.0.saturating_sub(boot.0)
    }

    /// Returns the wall time of a clock that is log time plus `offset_ms`.
    ///
    /// ```
    /// use seep_common::time::{LogMs, WallMs};
    /// assert_eq!(LogMs(100).on_wall(5_000), WallMs(5_100));
    /// assert_eq!(WallMs(5_100).on_log(5_000), LogMs(100));
    /// ```
    #[must_use]
    pub const fn on_wall(self, offset_ms: i64) -> WallMs {
        WallMs(self.0.saturating_add(offset_ms))
    }
}

impl WallMs {
    /// Returns wall time minus boot time at one moment, ms.
    #[must_use]
    pub const fn minus_boot(self, boot: BootMs) -> i64 {
        self.0.saturating_sub(boot.0)
    }

    /// Returns the log time whose wall time is log time plus `offset_ms`.
    #[must_use]
    pub const fn on_log(self, offset_ms: i64) -> LogMs {
        LogMs(self.0.saturating_sub(offset_ms))
    }
}
