//! Where a log of frames without dates, or without a zone, lies in time.

use crate::exit::{Exit, Failure};
use jiff::Timestamp;
use jiff::civil::{DateTime, Time};
use jiff::tz::TimeZone;
use seep_common::codec::canlog::{LogForm, LogTimes, Times};

/// What is known of a recording besides its files.
#[derive(Debug, Clone)]
pub(crate) struct Recorded {
    /// When a log without dates starts, Unix µs.
    start_us: Option<i64>,
    /// The zone of dates that name none.
    zone: TimeZone,
}

impl Recorded {
    /// From the options `--start` and `--zone`.
    ///
    /// # Errors
    /// 2 when the start is no date, or the zone is not known.
    pub(crate) fn new(start: Option<&str>, zone: Option<&str>) -> Result<Self, Failure> {
        let usage = |text: String| Failure::say(Exit::Usage, text);
        let start_us = start
            .map(|text| {
                text.parse::<Timestamp>().map(Timestamp::as_microsecond).map_err(|e| {
                    usage(format!("--start {text}: {e}; give a date with its zone, such as 2025-08-10T10:00:00Z"))
                })
            })
            .transpose()?;
        let zone = match zone {
            None => TimeZone::UTC,
            Some(name) => TimeZone::get(name).map_err(|_| {
                usage(format!(
                    "zone {name}: is not known; give an IANA name such as Europe/Berlin"
                ))
            })?,
        };
        Ok(Recorded { start_us, zone })
    }

    /// Unix ms of a time that a person noted: `2025-08-10T12:00:05Z`; a date or a
    /// time of the day of the recording's start without a zone, in the zone given;
    /// `+35`, seconds from the start.
    pub(crate) fn moment_ms(&self, text: &str, start_ms: i64) -> Option<i64> {
        if let Some(seconds) = text.strip_prefix('+') {
            let seconds = seconds
                .parse::<f64>()
                .ok()
                .filter(|s| (0.0..1e9).contains(s))?;
            return Some(start_ms + (seconds * 1000.0).round() as i64);
        }
        if let Ok(t) = text.parse::<Timestamp>() {
            return Some(t.as_millisecond());
        }
        let civil = text.parse::<DateTime>().ok().or_else(|| {
            let time = text.parse::<Time>().ok()?;
            let start = Timestamp::from_millisecond(start_ms).ok()?;
            let mut at = self.zone.to_datetime(start).date().to_datetime(time);
            // A recording may run past midnight.
            let slack = jiff::SignedDuration::from_secs(60);
            if self.zone.to_datetime(start - slack) > at {
                at = at.checked_add(jiff::SignedDuration::from_hours(24)).ok()?;
            }
            Some(at)
        })?;
        let at = self
            .zone
            .to_ambiguous_zoned_datetime(civil)
            .earlier()
            .ok()?;
        Some(at.timestamp().as_millisecond())
    }
}

/// How the times of a log become Unix time.
///
/// # Errors
/// 2 when the log has no dates and no start was given; 65 when its lines have
/// no times at all.
pub(super) fn of(form: LogForm, recorded: &Recorded, name: &str) -> Result<LogTimes, Failure> {
    let (start_us, zone) = (recorded.start_us, recorded.zone.clone());
    match form.times() {
        Times::Unix | Times::Civil => {}
        Times::SinceStart | Times::BetweenLines if start_us.is_some() => {}
        Times::SinceStart | Times::BetweenLines => {
            return Err(Failure::say(
                Exit::Usage,
                format!(
                    "{name}: is {} whose times have no date; say when it starts, as --start 2025-08-10T10:00:00Z",
                    form.name()
                ),
            ));
        }
        Times::Missing => {
            return Err(Failure::say(
                Exit::Data,
                format!(
                    "{name}: is {} without times, so nothing can be laid on an axis of time; record with `candump -L`, or `candump -t a`",
                    form.name()
                ),
            ));
        }
    }
    Ok(LogTimes::new(start_us, move |civil_us, last_us| {
        unix_us(&zone, civil_us, last_us)
    }))
}

/// The hour that comes twice when summer time ends is read in the order of the
/// log: a time that would lie before the previous one is the second of the two.
fn unix_us(zone: &TimeZone, civil_us: i64, last_us: i64) -> i64 {
    let civil = Timestamp::from_microsecond(civil_us).map(|t| TimeZone::UTC.to_datetime(t));
    let Ok(ambiguous) = civil.map(|c| zone.to_ambiguous_zoned_datetime(c)) else {
        return civil_us;
    };
    let earlier = ambiguous.clone().earlier();
    let later = ambiguous.later();
    let (Ok(earlier), Ok(later)) = (earlier, later) else {
        return civil_us;
    };
    let earlier = earlier.timestamp().as_microsecond();
    let later = later.timestamp().as_microsecond();
    if earlier < last_us && later >= last_us {
        later
    } else {
        earlier
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_without_a_zone_are_of_the_zone_given() {
        let known = Recorded::new(None, Some("Europe/Berlin")).expect("a zone");
        let noon_utc = 1_754_827_200_000_000; // 2025-08-10 12:00 UTC
        assert_eq!(
            unix_us(&known.zone, noon_utc, i64::MIN),
            noon_utc - 7_200_000_000
        );
        // 02:30 on 2025-10-26 came twice: 00:30 and 01:30 UTC.
        let half_past_two = 1_761_445_800_000_000;
        let first = unix_us(&known.zone, half_past_two, i64::MIN);
        assert_eq!(first, half_past_two - 7_200_000_000);
        assert_eq!(
            unix_us(&known.zone, half_past_two, first + 1),
            first + 3_600_000_000
        );
    }

    #[test]
    fn a_noted_time_is_one_of_the_recording() {
        let known = Recorded::new(None, Some("Europe/Berlin")).expect("a zone");
        let start = 1_754_820_000_000; // 2025-08-10 12:00 in Berlin
        for text in [
            "12:00:05",
            "2025-08-10T10:00:05Z",
            "2025-08-10 12:00:05",
            "+5",
        ] {
            assert_eq!(known.moment_ms(text, start), Some(start + 5_000), "{text}");
        }
        assert_eq!(known.moment_ms("00:30", start), Some(start + 45_000_000));
        assert_eq!(known.moment_ms("noon", start), None);
    }

    #[test]
    fn says_what_to_give() {
        let refusal = |start, zone| Recorded::new(start, zone).expect_err("bad").to_string();
        assert!(refusal(Some("yesterday"), None).contains("2025-08-10T10:00:00Z"));
        assert!(refusal(None, Some("Mars/Base")).contains("IANA"));
        let known = Recorded::new(None, None).expect("nothing is asked");
        let since = LogForm::Asc(Times::SinceStart);
        assert!(
            of(since, &known, "a.asc")
                .expect_err("no start")
                .to_string()
                .contains("--start")
        );
        let missing = LogForm::Console(Times::Missing);
        assert!(
            of(missing, &known, "a.txt")
                .expect_err("no times")
                .to_string()
                .contains("candump -L")
        );
    }
}
