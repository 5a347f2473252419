//! From a log's own times to Unix time.

use std::fmt;
use std::sync::Arc;

/// What the times in a log are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Times {
    /// Seconds since 1970 UTC.
    Unix,
    /// Dates of a zone that the log does not name.
    Civil,
    /// Since a start that the log does not name.
    SinceStart,
    /// Since the line before; the log does not name a start.
    BetweenLines,
    /// There are none.
    Missing,
}

/// Civil µs of the log's zone and the last Unix time of the log to Unix µs.
type CivilToUnix = Arc<dyn Fn(i64, i64) -> i64 + Send + Sync>;

/// How a log's own times become Unix time.
///
/// ```
/// use seep_common::codec::canlog::LogTimes;
/// // Dates in the log are of a zone two hours east of Greenwich.
/// let times = LogTimes::new(None, |civil_us, _last_us| civil_us - 7_200_000_000);
/// # let _ = times;
/// ```
#[derive(Clone)]
pub struct LogTimes {
    /// Unix time of the log's zero, for logs without a date, µs.
    pub start_us: Option<i64>,
    civil_to_unix: CivilToUnix,
}

impl LogTimes {
    /// `start_us` is the Unix time (µs) at which a log without a date starts.
    /// `civil_to_unix` turns µs since 1970-01-01 00:00 of the log's zone into
    /// Unix µs; its second argument is the previous Unix time in the log
    /// (`i64::MIN` at first), which tells the two readings of a repeated hour apart.
    pub fn new(
        start_us: Option<i64>,
        civil_to_unix: impl Fn(i64, i64) -> i64 + Send + Sync + 'static,
    ) -> Self {
        LogTimes {
            start_us,
            civil_to_unix: Arc::new(civil_to_unix),
        }
    }

    /// Returns the Unix time of a civil time of the log, µs.
    pub(super) fn unix_us(&self, civil_us: i64, last_us: i64) -> i64 {
        (self.civil_to_unix)(civil_us, last_us)
    }
}

/// No start is known, and dates without a zone are UTC.
impl Default for LogTimes {
    fn default() -> Self {
        LogTimes::new(None, |civil_us, _| civil_us)
    }
}

impl fmt::Debug for LogTimes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("LogTimes")
            .field("start_us", &self.start_us)
            .finish_non_exhaustive()
    }
}
