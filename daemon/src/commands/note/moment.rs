//! The time that a note is about, as people write it.

use jiff::civil::{DateTime, Time};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan, ZonedDateTime};

/// A note may be this far ahead of the clock, s: clocks differ.
const AHEAD_S: i64 = 60;

/// Reads `22:15` (the last time it was so late), `2026-08-14 22:15`, or a time with an
/// offset or zone.
///
/// # Errors
/// Says what to write where it is no time, or lies ahead.
pub(super) fn moment(text: &str, now: Timestamp, zone: &TimeZone) -> Result<Timestamp, String> {
    let at = parsed(text.trim(), now, zone).ok_or_else(|| {
        format!(
            "`{text}` is not a time; write it like \"22:15\" or \"2026-08-14 22:15\", with an offset \
             or zone if it is not local"
        )
    })?;
    if at.as_second() > now.as_second() + AHEAD_S {
        return Err(format!(
            "`{text}` has not come yet; is the date right, and this computer's clock?"
        ));
    }
    Ok(at)
}

fn parsed(text: &str, now: Timestamp, zone: &TimeZone) -> Option<Timestamp> {
    if let Ok(stamp) = text.parse::<Timestamp>() {
        return Some(stamp);
    }
    if let Ok(zoned) = text.parse::<ZonedDateTime>() {
        return Some(zoned.timestamp());
    }
    let in_zone = |local: DateTime| {
        local
            .to_zoned_datetime(zone.clone())
            .ok()
            .map(|z| z.timestamp())
    };
    // A date first: a time of day is also read out of one.
    if let Ok(local) = text.parse::<DateTime>() {
        return in_zone(local);
    }
    let time = text.parse::<Time>().ok()?;
    let today = now.to_zoned_datetime(zone.clone()).date();
    let at = in_zone(today.to_datetime(time))?;
    if at.as_second() <= now.as_second() + AHEAD_S {
        return Some(at);
    }
    in_zone(today.checked_sub(1.day()).ok()?.to_datetime(time))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_of_day_is_the_last_one() {
        let zone = TimeZone::get("Europe/Berlin").expect("bundled");
        let now: Timestamp = "2026-08-14T20:00:00Z".parse().expect("a time");
        let read = |text: &str| moment(text, now, &zone).map(|t| t.to_string());
        // 22:00 in Berlin.
        assert_eq!(read("21:30").as_deref(), Ok("2026-08-14T19:30:00Z"));
        assert_eq!(read("22:15").as_deref(), Ok("2026-08-13T20:15:00Z"));
        assert_eq!(
            read("2026-08-13 06:00").as_deref(),
            Ok("2026-08-13T04:00:00Z")
        );
        assert_eq!(
            read("2026-08-13T06:00Z").as_deref(),
            Ok("2026-08-13T06:00:00Z")
        );
        assert!(
            read("2026-08-14 22:15")
                .expect_err("ahead")
                .contains("not come")
        );
        assert!(read("this evening").expect_err("words").contains("22:15"));
    }
}
