//! ZDA: date and time.

use super::sentence::Sentence;
use crate::codec::calendar::{days_in_month, days_since_1970};
use crate::time::WallMs;

/// Time of a `ZDA` sentence (UTC time, day, month, year), ms since 1970-01-01
/// 00:00 UTC. `None` for other sentences and for empty or impossible fields.
///
/// A leap second `23:59:60` gives the first moment of the next day.
///
/// **Source**: NMEA 0183 (form from memory); day count by the proleptic Gregorian
/// calendar (ISO 8601).
///
/// ```
/// use seep_common::codec::nmea::{Item, Lexer, unix_ms};
/// use seep_common::time::WallMs;
/// let mut lexer = Lexer::new();
/// let mut time = None;
/// lexer.push(b"$GPZDA,201530.00,04,07,2002,00,00*60\r\n", &mut |item| {
///     if let Item::Sentence(sentence) = item {
///         time = unix_ms(&sentence);
///     }
/// });
/// assert_eq!(time, Some(WallMs(1_025_813_730_000)));
/// ```
#[must_use]
pub fn unix_ms(sentence: &Sentence<'_>) -> Option<WallMs> {
    if sentence.formatter() != "ZDA" {
        return None;
    }
    let mut fields = sentence.fields();
    let of_day_ms = time_of_day_ms(fields.next()?)?;
    let day = whole(fields.next()?, 1, 31)?;
    let month = whole(fields.next()?, 1, 12)?;
    let year = whole(fields.next()?, 1970, 9999)?;
    if day > days_in_month(year, month) {
        return None;
    }
    let day_ms = days_since_1970(year, month, day) * 86_400_000;
    Some(WallMs(day_ms + of_day_ms))
}

/// `hhmmss` or `hhmmss.sss`.
fn time_of_day_ms(field: &str) -> Option<i64> {
    let (clock, fraction) = field.split_once('.').unwrap_or((field, ""));
    if clock.len() != 6 || !fraction.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let hour = whole(clock.get(0..2)?, 0, 23)?;
    let minute = whole(clock.get(2..4)?, 0, 59)?;
    let second = whole(clock.get(4..6)?, 0, 60)?;
    let millis = fraction
        .bytes()
        .chain(*b"000")
        .take(3)
        .fold(0, |ms, digit| ms * 10 + i64::from(digit - b'0'));
    Some(((hour * 60 + minute) * 60 + second) * 1000 + millis)
}

fn whole(field: &str, least: i64, most: i64) -> Option<i64> {
    field
        .bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| field.parse().ok())
        .flatten()
        .filter(|value| (least..=most).contains(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `date -u -d 'YYYY-MM-DD' +%s` of GNU coreutils 9.1, divided by 86 400.
    #[test]
    fn day_numbers_agree_with_gnu_date() {
        for (year, month, day, number) in [
            (1970, 1, 1, 0),
            (1972, 2, 29, 789),
            (2000, 2, 29, 11_016),
            (2000, 3, 1, 11_017),
            (2025, 8, 10, 20_310),
            (2100, 3, 1, 47_541),
            (2400, 12, 31, 157_419),
        ] {
            assert_eq!(
                days_since_1970(year, month, day),
                number,
                "{year}-{month}-{day}"
            );
        }
    }

    #[test]
    fn impossible_dates_are_refused() {
        assert_eq!(days_in_month(2100, 2), 28);
        for body in [
            "GPZDA,201530,29,02,2025,00,00",
            "GPZDA,241530,01,02,2025,00,00",
            "GPZDA,201530,,,,00,00",
            "GPZDA,2015,01,02,2025,00,00",
            "GPZDA,+01530,01,02,2025,00,00",
            "GPZDB,201530,01,02,2025,00,00",
            "GPZDA",
        ] {
            let sentence = Sentence::new(body, None).expect("an address");
            assert_eq!(unix_ms(&sentence), None, "{body}");
        }
    }
}
