//! A wall time that says how well it is known.

use jiff::{Timestamp, ZonedDateTime, tz::TimeZone};
use serde::{Deserialize, Serialize};

/// Wall time in the report's zone, with the clock's uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WallTime {
    /// The moment and its zone.
    pub at: ZonedDateTime,
    /// Half width of the clock's uncertainty, s; zero while it was set.
    pub within_s: f64,
}

impl WallTime {
    /// From Unix milliseconds, shown in `zone`; none outside the years
    /// −9999 to 9999.
    ///
    /// ```
    /// use jiff::tz::TimeZone;
    /// use seep_report::model::WallTime;
    /// let t = WallTime::from_unix_ms(86_400_000, &TimeZone::UTC).unwrap();
    /// assert_eq!(t.at.to_string(), "1970-01-02T00:00:00+00:00[UTC]");
    /// ```
    #[must_use]
    pub fn from_unix_ms(t_unix_ms: i64, zone: &TimeZone) -> Option<Self> {
        let at = Timestamp::from_millisecond(t_unix_ms).ok()?;
        Some(WallTime {
            at: at.to_zoned_datetime(zone.clone()),
            within_s: 0.0,
        })
    }

    /// Unix time, ms.
    #[must_use]
    pub fn unix_ms(&self) -> i64 {
        self.at.timestamp().as_millisecond()
    }
}
