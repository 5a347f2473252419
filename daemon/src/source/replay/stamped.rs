//! The time that a terminal program wrote in front of a sentence.
//!
//! ```text
//! 2025-08-10T10:00:00.250Z $IIXDR,…*hh        ISO 8601, zone or offset
//! 2025-08-10 12:00:00.250+02:00 $IIXDR,…*hh
//! [1754820000.250] $IIXDR,…*hh                seconds since 1970
//! 1754820000250,$IIXDR,…*hh                   milliseconds since 1970
//! ```

use jiff::Timestamp;

/// Seconds since 1970 from here on are milliseconds (the year 5138 in seconds).
const FIRST_MS: f64 = 1e11;

/// Parts a line in front of a sentence into its time and the sentence; `None`
/// where there is no sentence, or no time in front of it.
pub(super) fn split(line: &[u8]) -> Option<(i64, &[u8])> {
    let start = line.iter().position(|b| matches!(b, b'$' | b'!' | b'\\'))?;
    let (front, sentence) = line.split_at(start);
    let front = std::str::from_utf8(front).ok()?;
    let front = front.trim_matches(|c: char| c.is_whitespace() || "[](),;|:>-".contains(c));
    Some((wall_ms(front)?, sentence))
}

/// Unix ms of a time; a date needs its zone.
fn wall_ms(text: &str) -> Option<i64> {
    if text.is_empty() {
        return None;
    }
    if text.bytes().all(|b| b.is_ascii_digit() || b == b'.') {
        let number = text.parse::<f64>().ok()?;
        let ms = if number < FIRST_MS {
            number * 1000.0
        } else {
            number
        };
        return Some(ms.round() as i64);
    }
    text.parse::<Timestamp>()
        .ok()
        .map(Timestamp::as_millisecond)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_form_tells_the_same_moment() {
        for front in [
            "2025-08-10T10:00:00.250Z ",
            "2025-08-10 12:00:00.250+02:00\t",
            "[2025-08-10T10:00:00.25Z] ",
            "1754820000.250 ",
            "(1754820000.250) ",
            "1754820000250,",
        ] {
            let line = format!("{front}$IIXDR,P,1.0,B,A*00");
            let (ms, rest) = split(line.as_bytes()).expect(front);
            assert_eq!(
                (ms, rest),
                (1_754_820_000_250, &b"$IIXDR,P,1.0,B,A*00"[..]),
                "{front}"
            );
        }
        for none in [
            "",
            "yesterday ",
            "10:00:00 ",
            "2025-08-10T10:00:00 ",
            "1.2.3 ",
        ] {
            assert_eq!(split(format!("{none}$IIXDR*00").as_bytes()), None, "{none}");
        }
        assert_eq!(split(b"1754820000.250 no sentence"), None);
    }
}
