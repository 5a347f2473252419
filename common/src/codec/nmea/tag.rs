//! The TAG block of NMEA 0183 version 4: only its time is of use here.

use super::sentence::checksum;
use crate::time::WallMs;

/// Counts below this are seconds, above it milliseconds: 10¹¹ s is the year 5138,
/// 10¹¹ ms is March 1973.
pub(super) const SECONDS_BELOW: i64 = 100_000_000_000;

/// What stands between two backslashes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tag {
    /// Checksum right; its time when it has one.
    Good(Option<WallMs>),
    /// Checksum wrong or missing.
    Bad,
}

/// Read the text between the backslashes.
pub(super) fn read(block: &str) -> Tag {
    let Some((body, sum)) = block.split_once('*') else {
        return Tag::Bad;
    };
    if sum.len() != 2 || u8::from_str_radix(sum, 16) != Ok(checksum(body.as_bytes())) {
        return Tag::Bad;
    }
    Tag::Good(
        body.split(',')
            .find_map(|parameter| parameter.strip_prefix("c:"))
            .and_then(unix_ms)
            .map(WallMs),
    )
}

/// Unix time in seconds (a decimal fraction is allowed) or milliseconds.
fn unix_ms(text: &str) -> Option<i64> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    let count: i64 = whole.parse().ok()?;
    if !fraction.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    if count.unsigned_abs() >= SECONDS_BELOW.unsigned_abs() {
        return Some(count);
    }
    let millis = fraction
        .bytes()
        .chain(*b"000")
        .take(3)
        .fold(0, |ms, digit| ms * 10 + i64::from(digit - b'0'));
    Some(count * 1000 + millis)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_and_milliseconds_are_told_apart_by_magnitude() {
        assert_eq!(unix_ms("1754820000"), Some(1_754_820_000_000));
        assert_eq!(unix_ms("1754820000123"), Some(1_754_820_000_123));
        assert_eq!(unix_ms("1754820000.5"), Some(1_754_820_000_500));
        assert_eq!(unix_ms("99999999999"), Some(99_999_999_999_000));
        assert_eq!(unix_ms("100000000000"), Some(100_000_000_000));
        assert_eq!(unix_ms(&i64::MIN.to_string()), Some(i64::MIN));
        assert_eq!(unix_ms(&i64::MAX.to_string()), Some(i64::MAX));
        assert_eq!(unix_ms("noon"), None);
        assert_eq!(unix_ms("1.x"), None);
    }

    /// **Source**: E. S. Raymond, "AIVDM/AIVDO protocol decoding" (gpsd
    /// documentation), NMEA TAG blocks: this block with checksum 4A.
    #[test]
    fn a_block_with_several_parameters_gives_its_time() {
        assert_eq!(
            read("g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A"),
            Tag::Good(Some(WallMs(1_241_544_035_000)))
        );
        assert_eq!(read("c:1120959341"), Tag::Bad);
        assert_eq!(read("c:1120959341*00"), Tag::Bad);
        assert_eq!(read("c:1120959341*+5"), Tag::Bad);
    }
}
