//! Times in a table: numbers since 1970, or dates by a pattern and a zone.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::fmt::strtime;
use jiff::tz::TimeZone;

/// How a table writes its times.
#[derive(Debug)]
pub(crate) struct CsvTime {
    form: Form,
    last_ms: i64,
}

#[derive(Debug)]
enum Form {
    UnixSeconds,
    UnixMilliseconds,
    /// The pattern names the offset itself.
    Absolute(String),
    /// Civil times in a zone.
    Civil(String, TimeZone),
}

impl CsvTime {
    /// From `time_format` and `zone` of a source.
    ///
    /// The error says what is wrong and what to write instead.
    pub(crate) fn new(format: &str, zone: &str) -> Result<Self, String> {
        let zone = TimeZone::get(zone).map_err(|_| {
            format!("zone `{zone}` is not known; use an IANA name such as `UTC` or `Europe/Berlin`")
        })?;
        let form = match format {
            "unix_s" => Form::UnixSeconds,
            "unix_ms" => Form::UnixMilliseconds,
            pattern => dated(pattern, zone)?,
        };
        Ok(CsvTime {
            form,
            last_ms: i64::MIN,
        })
    }

    /// Wall time, ms since 1970 UTC; `None` when the text is no such time.
    pub(crate) fn parse(&mut self, text: &str) -> Option<i64> {
        let text = text.trim();
        let wall_ms = match &self.form {
            Form::UnixSeconds => (text.parse::<f64>().ok()? * 1000.0).round() as i64,
            Form::UnixMilliseconds => text.parse::<f64>().ok()?.round() as i64,
            Form::Absolute(pattern) => Timestamp::strptime(pattern, text).ok()?.as_millisecond(),
            Form::Civil(pattern, zone) => civil_ms(pattern, zone, text, self.last_ms)?,
        };
        self.last_ms = wall_ms;
        Some(wall_ms)
    }
}

/// Whether `time_format` and `zone` of a source can be used; the error says what
/// to write instead.
pub(crate) fn check_time(format: &str, zone: &str) -> Result<(), String> {
    CsvTime::new(format, zone).map(drop)
}

fn dated(pattern: &str, zone: TimeZone) -> Result<Form, String> {
    // A pattern that cannot write a time will not read one.
    let sample = jiff::civil::date(2001, 2, 3).at(4, 5, 0, 0); // seconds may be missing
    let zoned = sample
        .to_zoned_datetime(zone.clone())
        .map_err(|e| e.to_string())?;
    let remedy = "use `unix_s`, `unix_ms` or a strptime pattern such as `%Y-%m-%d %H:%M:%S`";
    let written = strtime::format(pattern, &zoned)
        .map_err(|e| format!("time_format `{pattern}`: {e}; {remedy}"))?;
    if Timestamp::strptime(pattern, &written).is_ok() {
        return Ok(Form::Absolute(pattern.into()));
    }
    match DateTime::strptime(pattern, &written) {
        Ok(back) if back == sample => Ok(Form::Civil(pattern.into(), zone)),
        _ => Err(format!(
            "time_format `{pattern}` does not hold a whole date and time; {remedy}"
        )),
    }
}

/// The hour that comes twice when summer time ends is read in the order of the
/// table: a time that would lie before the previous one is the second of the two.
fn civil_ms(pattern: &str, zone: &TimeZone, text: &str, last_ms: i64) -> Option<i64> {
    let ambiguous = zone.to_ambiguous_zoned_datetime(DateTime::strptime(pattern, text).ok()?);
    let earlier = ambiguous
        .clone()
        .earlier()
        .ok()?
        .timestamp()
        .as_millisecond();
    let later = ambiguous.later().ok()?.timestamp().as_millisecond();
    Some(if earlier < last_ms && later >= last_ms {
        later
    } else {
        earlier
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(format: &str, zone: &str, text: &str) -> Option<i64> {
        CsvTime::new(format, zone).expect("valid").parse(text)
    }

    #[test]
    fn every_form_tells_the_same_moment() {
        let moment = Some(1_754_820_000_250);
        assert_eq!(ms("unix_s", "UTC", "1754820000.25"), moment);
        assert_eq!(ms("unix_ms", "UTC", " 1754820000250"), moment);
        assert_eq!(
            ms("%Y-%m-%d %H:%M:%S%.f", "UTC", "2025-08-10 10:00:00.25"),
            moment
        );
        assert_eq!(
            ms(
                "%d.%m.%Y %H:%M:%S%.f",
                "Europe/Berlin",
                "10.08.2025 12:00:00.25"
            ),
            moment
        );
        assert_eq!(
            ms(
                "%Y-%m-%dT%H:%M:%S%.f%z",
                "UTC",
                "2025-08-10T13:00:00.25+0300"
            ),
            moment
        );
        assert_eq!(ms("unix_s", "UTC", "yesterday"), None);
        assert_eq!(ms("%Y-%m-%d %H:%M:%S", "UTC", "2025-13-10 10:00:00"), None);
    }

    #[test]
    fn the_hour_that_comes_twice_does_not_go_back() {
        // Summer time ended in Berlin on 2025-10-26 at 01:00 UTC.
        let mut time = CsvTime::new("%Y-%m-%d %H:%M", "Europe/Berlin").expect("valid");
        let read: Vec<_> = ["02:30", "02:45", "02:15", "02:30", "03:00"]
            .iter()
            .map(|hm| time.parse(&format!("2025-10-26 {hm}")).expect("a time"))
            .collect();
        let minutes: Vec<_> = read.iter().map(|t| (t - read[0]) / 60_000).collect();
        assert_eq!(minutes, [0, 15, 45, 60, 90]);
    }

    #[test]
    fn says_what_to_write_instead() {
        let said = CsvTime::new("%Y-%m-%d %H:%M:%S", "Mars/Base").expect_err("no zone");
        assert!(said.contains("IANA"), "{said}");
        let said = CsvTime::new("%H:%M:%S", "UTC").expect_err("no date");
        assert!(said.contains("whole date"), "{said}");
        let said = CsvTime::new("%Y-%!", "UTC").expect_err("no pattern");
        assert!(said.contains("unix_s"), "{said}");
    }
}
