//! Which part of a log is meant.

use super::Session;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use seep_common::store::{ClockMap, SessionId};

/// What a person asked for.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SpanRequest {
    /// From this wall time; `None`: from the start.
    pub from: Option<String>,
    /// Up to this wall time; `None`: to the end.
    pub to: Option<String>,
    /// A span in words, counted back from the end: `trip`, `night`, `3 days`.
    pub last: Option<String>,
    /// One session only.
    pub session: Option<i64>,
    /// So many minutes before and after a wall time.
    pub around: Option<(String, f64)>,
    /// So many minutes before and after a log time, ms.
    pub around_t_ms: Option<(i64, f64)>,
    /// Zone for times without one, IANA name; `None`: the system's.
    pub zone: Option<String>,
}

/// A span of log time, half-open, and the zone to show times in.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// First log time, ms.
    pub from_t_ms: i64,
    /// First log time after it, ms.
    pub to_t_ms: i64,
    /// Zone of printed times.
    pub zone: TimeZone,
}

/// Why a request names no span.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SpanError {
    /// A time that cannot be read.
    #[error(
        "`{text}` is not a time; write it like \"2026-08-14 22:00\", with an offset or zone if it is not local"
    )]
    BadTime {
        /// What was written.
        text: String,
    },
    /// Words that name no span.
    #[error(
        "`{text}` is no span; write --last trip, night, session, day, week, note, or a length such as \"3 days\" or \"12 hours\""
    )]
    BadLast {
        /// What was written.
        text: String,
    },
    /// Words that name no span to compare with.
    #[error(
        "`{text}` is no span to compare with; write --against before, \"week before\", \"3 days before\", \"2026-08-01..2026-08-08\" or \"session 2\""
    )]
    BadAgainst {
        /// What was written.
        text: String,
    },
    /// A zone that is not known.
    #[error("`{name}` is not a time zone; use an IANA name such as Europe/Berlin, or UTC")]
    BadZone {
        /// What was written.
        name: String,
    },
    /// Nobody noted anything.
    #[error("nothing is noted in this log: `seepd note \"fitting replaced\"` does")]
    NoNote,
    /// No such session.
    #[error("there is no session {id}; `seep sessions` lists them")]
    NoSuchSession {
        /// The number asked for.
        id: i64,
    },
    /// From is not before to.
    #[error("the span is empty: --from is not before --to")]
    Empty,
    /// Nothing was recorded then.
    #[error("nothing was recorded in that span; `seep sessions` shows what there is")]
    NothingRecorded,
    /// The log has no clock rows, so wall times cannot be used.
    #[error("this log has no clock record, so --from and --to cannot be used; use --session")]
    NoClock,
}

pub(super) fn resolve(
    request: &SpanRequest,
    sessions: &[Session],
    clock: &ClockMap,
    last_note_unix_ms: Option<i64>,
) -> Result<Span, SpanError> {
    let zone = zone_of(request.zone.as_deref())?;
    let (mut from, mut to) = whole(sessions);
    if let Some(words) = &request.last {
        let (start, end) = super::last::resolve(words, sessions, clock, &zone, last_note_unix_ms)?;
        (from, to) = (from.max(start), to.min(end));
    }
    if let Some(id) = request.session {
        let session = sessions
            .iter()
            .find(|s| s.id == SessionId(id))
            .ok_or(SpanError::NoSuchSession { id })?;
        from = from.max(session.start.t_ms);
        to = to.min(session.end_t_ms.saturating_add(1));
    }
    if let Some(text) = &request.from {
        from = from.max(log_time(text, &zone, clock)?);
    }
    if let Some(text) = &request.to {
        to = to.min(log_time(text, &zone, clock)?);
    }
    let around = match (&request.around, request.around_t_ms) {
        (Some((text, minutes)), _) => Some((log_time(text, &zone, clock)?, *minutes)),
        (None, by_log) => by_log,
    };
    if let Some((t_ms, minutes)) = around {
        let half_ms = (60_000.0 * minutes) as i64;
        from = from.max(t_ms.saturating_sub(half_ms));
        to = to.min(t_ms.saturating_add(half_ms));
        if from >= to {
            return Err(SpanError::NothingRecorded);
        }
    }
    if from >= to {
        return Err(SpanError::Empty);
    }
    Ok(Span {
        from_t_ms: from,
        to_t_ms: to,
        zone,
    })
}

fn whole(sessions: &[Session]) -> (i64, i64) {
    let from = sessions.iter().map(|s| s.start.t_ms).min().unwrap_or(0);
    let to = sessions.iter().map(|s| s.end_t_ms).max().unwrap_or(0);
    (from, to.saturating_add(1))
}

fn zone_of(name: Option<&str>) -> Result<TimeZone, SpanError> {
    match name {
        None => Ok(TimeZone::system()),
        Some(name) => TimeZone::get(name).map_err(|_| SpanError::BadZone { name: name.into() }),
    }
}

fn log_time(text: &str, zone: &TimeZone, clock: &ClockMap) -> Result<i64, SpanError> {
    let wall = wall_ms(text, zone).ok_or_else(|| SpanError::BadTime { text: text.into() })?;
    clock.log_ms(wall).ok_or(SpanError::NoClock)
}

/// A wall time as people write it: with offset, with zone in brackets, or local.
fn wall_ms(text: &str, zone: &TimeZone) -> Option<i64> {
    let text = text.trim();
    if let Ok(stamp) = text.parse::<Timestamp>() {
        return Some(stamp.as_millisecond());
    }
    if let Ok(zoned) = text.parse::<ZonedDateTime>() {
        return Some(zoned.timestamp().as_millisecond());
    }
    let local: DateTime = text.parse().ok()?;
    let zoned = local.to_zoned_datetime(zone.clone()).ok()?;
    Some(zoned.timestamp().as_millisecond())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_as_people_write_them() {
        let berlin = TimeZone::get("Europe/Berlin").expect("bundled");
        let noon = Some(1_786_701_600_000);
        assert_eq!(wall_ms("2026-08-14 12:00", &berlin), noon);
        assert_eq!(wall_ms("2026-08-14T10:00:00Z", &berlin), noon);
        assert_eq!(wall_ms("2026-08-14 06:00-04:00", &berlin), noon);
        assert_eq!(
            wall_ms("2026-08-14", &berlin),
            noon.map(|t| t - 12 * 3_600_000)
        );
        assert_eq!(wall_ms("yesterday-ish", &berlin), None);
    }
}
