//! Spans as people say them: `--last trip`, `--last night`, `--last "3 days"`.
//!
//! All of them are counted back from the end of the recording, never from
//! today: the same log gives the same report next year.

use super::Session;
use super::SpanError;
use jiff::civil::Time;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use seep_common::store::ClockMap;

/// Sessions closer together than this belong to one trip, ms.
const PAUSE_OF_A_TRIP_MS: i64 = 12 * 3_600_000;

/// A night needs this much before the end of the log to be the last one, ms.
const LEAST_OF_A_NIGHT_MS: i64 = 3_600_000;

const HOUR_MS: i64 = 3_600_000;

/// Log times from and up to, half-open.
pub(super) fn resolve(
    text: &str,
    sessions: &[Session],
    clock: &ClockMap,
    zone: &TimeZone,
    last_note_unix_ms: Option<i64>,
) -> Result<(i64, i64), SpanError> {
    let last = sessions.last().ok_or(SpanError::NothingRecorded)?;
    let end = sessions
        .iter()
        .map(|s| s.end_t_ms)
        .max()
        .unwrap_or(last.end_t_ms);
    let after = end.saturating_add(1);
    let bad = || SpanError::BadLast { text: text.into() };
    match text.trim().to_lowercase().as_str() {
        "session" => Ok((last.start.t_ms, after)),
        "note" => Ok((
            clock
                .log_ms(last_note_unix_ms.ok_or(SpanError::NoNote)?)
                .ok_or(SpanError::NoClock)?,
            after,
        )),
        "trip" => Ok((trip_start(sessions), after)),
        "night" => night(end, clock, zone),
        words => Ok((end.saturating_sub(length_ms(words).ok_or_else(bad)?), after)),
    }
}

/// Start of the first session that no long pause parts from the last one.
fn trip_start(sessions: &[Session]) -> i64 {
    let mut start = i64::MAX;
    for session in sessions.iter().rev() {
        if start != i64::MAX && start - session.end_t_ms > PAUSE_OF_A_TRIP_MS {
            break;
        }
        start = session.start.t_ms;
    }
    start
}

/// From six in the evening to nine in the morning.
fn night(end: i64, clock: &ClockMap, zone: &TimeZone) -> Result<(i64, i64), SpanError> {
    let end_wall = clock.wall_ms(end).ok_or(SpanError::NoClock)?;
    let now = Timestamp::from_millisecond(end_wall - LEAST_OF_A_NIGHT_MS)
        .map_err(|_| SpanError::NoClock)?
        .to_zoned_datetime(zone.clone());
    let evening = if now.hour() >= 18 {
        now.date()
    } else {
        now.date().yesterday().map_err(|_| SpanError::NoClock)?
    };
    let at = |date: jiff::civil::Date, hour: i8| -> Result<i64, SpanError> {
        let local = date.to_datetime(Time::constant(hour, 0, 0, 0));
        let zoned = local
            .to_zoned_datetime(zone.clone())
            .map_err(|_| SpanError::NoClock)?;
        let wall = zoned.timestamp().as_millisecond();
        clock.log_ms(wall).ok_or(SpanError::NoClock)
    };
    let morning = evening
        .checked_add(1.day())
        .map_err(|_| SpanError::NoClock)?;
    let (from, to) = (at(evening, 18)?, at(morning, 9)?);
    // Both lie where nothing was recorded: before the log, or in one pause.
    if from >= to {
        return Err(SpanError::NothingRecorded);
    }
    Ok((from, to))
}

/// `week`, `3 days`, `90 min`, as milliseconds.
pub(super) fn length_ms(words: &str) -> Option<i64> {
    let digits = words
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(words.len());
    let (number, unit) = words.split_at(digits);
    let n: i64 = if number.is_empty() {
        1
    } else {
        number.parse().ok().filter(|n| *n > 0)?
    };
    let each = match unit.trim() {
        "min" | "minute" | "minutes" => 60_000,
        "h" | "hour" | "hours" => HOUR_MS,
        "d" | "day" | "days" => 24 * HOUR_MS,
        "w" | "week" | "weeks" => 7 * 24 * HOUR_MS,
        _ => return None,
    };
    n.checked_mul(each)
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::store::{ClockRow, ClockState, SessionId, SessionStart};

    const DAY: i64 = 24 * HOUR_MS;

    fn session(id: i64, from: i64, to: i64) -> Session {
        Session {
            id: SessionId(id),
            start: SessionStart {
                boot_id: String::new(),
                t_ms: from,
                program: String::new(),
                origin: String::new(),
                start_boot_ms: None,
            },
            end_t_ms: to,
            end_reason: None,
            rig_sha256: String::new(),
            protected: false,
        }
    }

    /// Log time counts from 1970-01-01 00:00 UTC here.
    fn ask(text: &str, sessions: &[Session]) -> Result<(i64, i64), SpanError> {
        let clock = ClockMap::new(&[ClockRow {
            noted_t_ms: 0,
            from_t_ms: 0,
            offset_ms: 0,
            state: ClockState::Synced,
        }]);
        resolve(text, sessions, &clock, &TimeZone::UTC, None)
    }

    fn three() -> Vec<Session> {
        vec![
            session(1, 0, 10 * HOUR_MS),
            session(2, DAY, DAY + 4 * HOUR_MS),
            session(3, DAY + 6 * HOUR_MS, DAY + 20 * HOUR_MS),
        ]
    }

    #[test]
    fn people_mean_the_end_of_the_recording() {
        let end = DAY + 20 * HOUR_MS;
        let all = three();
        assert_eq!(ask("session", &all), Ok((DAY + 6 * HOUR_MS, end + 1)));
        assert_eq!(ask("trip", &all), Ok((DAY, end + 1)));
        assert_eq!(ask("2 hours", &all), Ok((end - 2 * HOUR_MS, end + 1)));
        assert_eq!(ask("week", &all), Ok((end - 7 * DAY, end + 1)));
        assert_eq!(ask("Day", &all), Ok((end - DAY, end + 1)));
        // The log ends at 20:00: the night that began at 18:00 is the last one.
        assert_eq!(
            ask("night", &all),
            Ok((DAY + 18 * HOUR_MS, 2 * DAY + 9 * HOUR_MS))
        );
    }

    #[test]
    fn what_makes_no_sense_is_told() {
        for text in [
            "tripp",
            "0 days",
            "-3 days",
            "3",
            "",
            "99999999999999999999 days",
        ] {
            assert!(ask(text, &three()).is_err(), "{text}");
        }
    }
}
