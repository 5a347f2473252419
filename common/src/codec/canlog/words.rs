//! The parts of a line.

use crate::codec::calendar::Civil;
use crate::codec::can::{CanFrame, FrameKind, MAX_EXTENDED_ID, MAX_STANDARD_ID};
use crate::codec::candump::NIBBLE;

/// Returns the next word and what follows it; an empty word at the end.
#[inline]
pub(super) fn word(text: &[u8]) -> (&[u8], &[u8]) {
    let text = text.trim_ascii_start();
    let end = text
        .iter()
        .position(u8::is_ascii_whitespace)
        .unwrap_or(text.len());
    text.split_at(end)
}

/// Returns a decimal number such as `12`, `0.249713` or `-1.5` in millionths
/// of `unit`: `micros(b"1.5", 1_000_000)` is 1 500 000 (seconds to µs),
/// `micros(b"1.5", 1_000)` is 1 500 (milliseconds to µs). Finer digits are cut.
pub(super) fn micros(text: &[u8], unit: i64) -> Option<i64> {
    let (sign, digits) = match text {
        [b'-', rest @ ..] => (-1, rest),
        _ => (1, text),
    };
    let point = digits.iter().position(|b| *b == b'.');
    let (whole, fraction) = match point {
        Some(at) => (&digits[..at], &digits[at + 1..]),
        None => (digits, &[][..]),
    };
    if whole.is_empty() || (point.is_some() && fraction.is_empty()) {
        return None;
    }
    let mut value = integer(whole)?.checked_mul(unit)?;
    let mut place = unit;
    for &digit in fraction {
        if !digit.is_ascii_digit() {
            return None;
        }
        place /= 10;
        value = value.checked_add(place * i64::from(digit - b'0'))?;
    }
    Some(sign * value)
}

/// Returns a number of decimal digits only.
pub(super) fn integer(text: &[u8]) -> Option<i64> {
    if text.is_empty() {
        return None;
    }
    text.iter().try_fold(0i64, |value, b| {
        let digit = b.is_ascii_digit().then(|| i64::from(b - b'0'))?;
        value.checked_mul(10)?.checked_add(digit)
    })
}

/// Returns a number in base 10 or 16.
#[inline]
pub(super) fn number(text: &[u8], base: u32) -> Option<u32> {
    if text.is_empty() {
        return None;
    }
    text.iter().try_fold(0u32, |value, &b| {
        let digit = u32::from(NIBBLE[usize::from(b)]);
        value
            .checked_mul(base)?
            .checked_add(digit)
            .filter(|_| digit < base)
    })
}

/// Returns a data frame without data; `None` where the identifier does not fit.
pub(super) fn frame(id: u32, extended: bool) -> Option<CanFrame> {
    let most = if extended {
        MAX_EXTENDED_ID
    } else {
        MAX_STANDARD_ID
    };
    (id <= most).then(|| CanFrame::empty(id, extended, FrameKind::Data))
}

/// Returns a byte of two hexadecimal digits behind one space, and what follows it:
/// nearly every byte of a log stands so.
#[inline]
fn plain_byte(text: &[u8]) -> Option<(u8, &[u8])> {
    let [b' ', high, low, rest @ ..] = text else {
        return None;
    };
    let (high, low) = (NIBBLE[usize::from(*high)], NIBBLE[usize::from(*low)]);
    let ends = rest.first().is_none_or(u8::is_ascii_whitespace);
    (ends && high | low <= 15).then_some((high << 4 | low, rest))
}

/// Returns the next word as a byte, and what follows it.
fn any_byte(text: &[u8], base: u32) -> Option<(u8, &[u8])> {
    let (word, rest) = word(text);
    let digits = if base == 16 {
        word.len() == 2
    } else {
        (1..=3).contains(&word.len())
    };
    let byte = digits.then(|| number(word, base))??;
    Some((u8::try_from(byte).ok()?, rest))
}

/// Takes up to `most` bytes in words of the base and returns what follows them;
/// stops in front of a word that is no byte.
pub(super) fn bytes<'a>(
    mut rest: &'a [u8],
    base: u32,
    most: usize,
    frame: &mut CanFrame,
) -> &'a [u8] {
    let (payload, len) = frame.payload_mut();
    let mut count = 0;
    for place in payload.iter_mut().take(most) {
        let plain = if base == 16 { plain_byte(rest) } else { None };
        let Some((byte, after)) = plain.or_else(|| any_byte(rest, base)) else {
            break;
        };
        *place = byte;
        count += 1;
        rest = after;
    }
    *len = count as u8;
    rest
}

/// Bytes of a payload by its length code (ISO 11898-1: 9 to 15 are 12, 16, 20,
/// 24, 32, 48 and 64 bytes in CAN FD, and 8 in a classic frame).
pub(super) fn length_of_code(code: u32, fd: bool) -> Option<usize> {
    const FD: [usize; 7] = [12, 16, 20, 24, 32, 48, 64];
    match code {
        0..=8 => Some(code as usize),
        9..=15 if fd => FD.get(code as usize - 9).copied(),
        9..=15 => Some(8),
        _ => None,
    }
}

/// Returns µs since midnight of `10:00:00`, `10:00:00.25` or `10:00`.
pub(super) fn time_of_day_us(text: &[u8]) -> Option<i64> {
    let mut parts = text.split(|b| *b == b':');
    let hour = integer(parts.next()?)?;
    let minute = integer(parts.next()?)?;
    let second_us = parts.next().map_or(Some(0), |s| micros(s, 1_000_000))?;
    let valid =
        parts.next().is_none() && hour < 24 && minute < 60 && (0..60_000_000).contains(&second_us);
    valid.then_some((hour * 60 + minute) * 60_000_000 + second_us)
}

/// Returns the civil µs of `2025-08-10` and `10:00:00.25`.
pub(super) fn iso_civil_us(date: &[u8], time: &[u8]) -> Option<i64> {
    let mut parts = date.split(|b| *b == b'-').map(integer);
    let civil = Civil {
        year: parts.next()??,
        month: parts.next()??,
        day: parts.next()??,
        of_day_us: time_of_day_us(time)?,
    };
    parts.next().is_none().then(|| civil.us())?
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn decimal_numbers_are_exact() {
        assert_eq!(micros(b"1.5", 1_000_000), Some(1_500_000));
        assert_eq!(micros(b"249.713", 1_000), Some(249_713));
        assert_eq!(micros(b"-0.000001", 1_000_000), Some(-1));
        assert_eq!(micros(b"0.1234567", 1_000_000), Some(123_456));
        for bad in [
            "",
            ".",
            "1.",
            ".5",
            "1e3",
            "+1",
            "1.2.3",
            "99999999999999999",
        ] {
            assert_eq!(micros(bad.as_bytes(), 1_000_000), None, "{bad}");
        }
    }

    #[test]
    fn times_of_day_keep_to_the_clock() {
        assert_eq!(time_of_day_us(b"10:00:00.25"), Some(36_000_250_000));
        for bad in ["24:00:00", "10:60:00", "10:00:60", "10", "10:00:00:00"] {
            assert_eq!(time_of_day_us(bad.as_bytes()), None, "{bad}");
        }
        assert_eq!(
            iso_civil_us(b"1970-01-02", b"00:00:01"),
            Some(86_401_000_000)
        );
        assert_eq!(iso_civil_us(b"2025-02-30", b"00:00:01"), None);
    }

    proptest! {
        #[test]
        fn numbers_are_those_of_the_standard_parser(
            text in "[0-9a-fA-FgZ+_-]{0,10}", base in prop::sample::select(vec![10u32, 16]),
        ) {
            let standard = u32::from_str_radix(&text, base).ok();
            let wanted = standard.filter(|_| !text.starts_with('+'));
            prop_assert_eq!(number(text.as_bytes(), base), wanted);
        }

        #[test]
        fn a_plain_byte_is_the_next_word(text in "[ \t]{0,2}[0-9A-Fa-fg]{0,3}[ \t\r'x]{0,2}") {
            if let Some(found) = plain_byte(text.as_bytes()) {
                prop_assert_eq!(Some(found), any_byte(text.as_bytes(), 16));
            }
        }
    }
}
