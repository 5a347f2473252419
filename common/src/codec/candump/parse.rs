//! One log line to one frame.

use super::canonical::canonical;
use super::hex::NIBBLE;
use crate::codec::can::{
    CanFrame, Direction, FrameKind, InterfaceName, MAX_CLASSIC_BYTES, MAX_EXTENDED_ID,
    MAX_FD_BYTES, MAX_STANDARD_ID,
};

/// Why a line is not a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, thiserror::Error)]
pub enum Malformed {
    /// It does not start with a time: `(seconds.fraction)` in a candump log.
    #[error("no time at the start that this kind of log has")]
    Timestamp,
    /// No interface name of 1 to 15 characters.
    #[error("no interface name such as `can0` after the time")]
    Interface,
    /// Not the digits of an identifier, or a number too large for one.
    #[error("no identifier of 11 or 29 bits where this kind of log has it")]
    Identifier,
    /// Odd number of digits, other characters, too many bytes, or not as many as
    /// the line says.
    #[error("data are not bytes, or not as many as the line or the frame allows")]
    Data,
    /// Something other than a direction after the frame.
    #[error("unexpected text after the frame")]
    Trailing,
    /// Longer than any frame can be.
    #[error("line is longer than any frame")]
    Overlong,
    /// The file ends in the middle of this line. It is not used, for a
    /// truncated payload can look like a complete shorter one.
    #[error("the file ends before the end of this line")]
    Unterminated,
}

/// Bit of an eight digit identifier that marks an error report
/// (`CAN_ERR_FLAG` of the Linux CAN interface).
pub(in crate::codec) const ERROR_FLAG: u32 = 0x2000_0000;

/// Read one line without its line end.
///
/// The time is kept exactly to the microsecond; finer digits are cut off.
///
/// # Errors
/// [`Malformed`] says which part is wrong.
///
/// ```
/// use seep_common::codec::candump::parse_line;
/// let frame = parse_line(b"(1436509052.249713) can0 18FE58FE#03147B13C518FFFF").unwrap();
/// assert_eq!(frame.t_us, 1_436_509_052_249_713);
/// assert_eq!((frame.id, frame.extended), (0x18FE58FE, true));
/// assert_eq!(frame.data(), [0x03, 0x14, 0x7B, 0x13, 0xC5, 0x18, 0xFF, 0xFF]);
/// ```
pub fn parse_line(line: &[u8]) -> Result<CanFrame, Malformed> {
    let mut frame = CanFrame::empty(0, false, FrameKind::Data);
    if canonical(line, &mut frame) {
        return Ok(frame);
    }
    any_form(line)
}

/// Every form that writers of such logs use.
pub(super) fn any_form(line: &[u8]) -> Result<CanFrame, Malformed> {
    let (t_us, rest) = timestamp(line.trim_ascii_start()).ok_or(Malformed::Timestamp)?;
    let (interface, rest) = word(rest);
    let interface = InterfaceName::new(interface).ok_or(Malformed::Interface)?;
    let (text, rest) = word(rest);
    let (mut frame, payload) = identifier(text).ok_or(Malformed::Identifier)?;
    frame.t_us = t_us;
    frame.interface = interface;
    match payload {
        [b'R' | b'r', length @ ..] => remote(&mut frame, length)?,
        [b'#', flags, data @ ..] => {
            let flags = NIBBLE[usize::from(*flags)];
            if flags > 15 || frame.kind == FrameKind::Error {
                return Err(Malformed::Data);
            }
            frame.fd_flags = Some(flags);
            bytes(&mut frame, data, MAX_FD_BYTES)?;
        }
        data => bytes(&mut frame, data, MAX_CLASSIC_BYTES)?,
    }
    frame.direction = match rest.trim_ascii() {
        b"" => Direction::Unknown,
        b"R" => Direction::Received,
        b"T" => Direction::Sent,
        _ => return Err(Malformed::Trailing),
    };
    Ok(frame)
}

/// `(seconds.fraction)` to microseconds, and what follows.
fn timestamp(line: &[u8]) -> Option<(i64, &[u8])> {
    let mut rest = line.strip_prefix(b"(")?;
    let negative = rest.first() == Some(&b'-');
    if negative {
        rest = &rest[1..];
    }
    let (seconds, digits) = digits(rest, i64::MAX)?;
    rest = rest[digits..].strip_prefix(b".")?;
    let (mut fraction, mut count) = (0i64, 0usize);
    while let Some(digit) = rest.get(count).filter(|b| b.is_ascii_digit()) {
        if count < 6 {
            fraction = fraction * 10 + i64::from(digit - b'0');
        }
        count += 1;
    }
    if count == 0 {
        return None;
    }
    for _ in count..6 {
        fraction *= 10;
    }
    rest = rest[count..].strip_prefix(b")")?;
    let sign = if negative { -1 } else { 1 };
    let t_us = seconds
        .checked_mul(sign * 1_000_000)?
        .checked_add(sign * fraction)?;
    Some((t_us, rest))
}

/// Decimal digits at the start: their value and how many there are.
fn digits(text: &[u8], most: i64) -> Option<(i64, usize)> {
    let count = text.iter().take_while(|b| b.is_ascii_digit()).count();
    if count == 0 {
        return None;
    }
    let value = text[..count].iter().try_fold(0i64, |value, b| {
        value.checked_mul(10)?.checked_add(i64::from(b - b'0'))
    })?;
    (value <= most).then_some((value, count))
}

/// The next word and what follows it.
fn word(text: &[u8]) -> (&[u8], &[u8]) {
    let text = text.trim_ascii_start();
    let end = text
        .iter()
        .position(u8::is_ascii_whitespace)
        .unwrap_or(text.len());
    text.split_at(end)
}

/// `123#` or `18FE58FE#` to an empty frame, and what follows.
fn identifier(text: &[u8]) -> Option<(CanFrame, &[u8])> {
    let (len, extended) = if text.get(3) == Some(&b'#') {
        (3, false)
    } else if text.get(8) == Some(&b'#') {
        (8, true)
    } else {
        return None;
    };
    let mut id = 0u32;
    for &digit in &text[..len] {
        let nibble = NIBBLE[usize::from(digit)];
        if nibble > 15 {
            return None;
        }
        id = id << 4 | u32::from(nibble);
    }
    let rest = &text[len + 1..];
    let frame = match id {
        0..=MAX_STANDARD_ID if !extended => CanFrame::empty(id, false, FrameKind::Data),
        0..=MAX_EXTENDED_ID if extended => CanFrame::empty(id, true, FrameKind::Data),
        ERROR_FLAG..=0x3FFF_FFFF if extended => {
            CanFrame::empty(id & MAX_EXTENDED_ID, false, FrameKind::Error)
        }
        _ => return None,
    };
    Some((frame, rest))
}

/// `R` or `R4`: the number of bytes asked for.
fn remote(frame: &mut CanFrame, length: &[u8]) -> Result<(), Malformed> {
    let length = match raw_length_code(length) {
        [] => 0,
        [digit @ b'0'..=b'8'] => digit - b'0',
        _ => return Err(Malformed::Data),
    };
    if frame.kind == FrameKind::Error {
        return Err(Malformed::Data);
    }
    *frame = frame.into_remote(length);
    Ok(())
}

/// Cut the optional `_C` (raw length code 9 to F of a classic 8 byte frame).
fn raw_length_code(text: &[u8]) -> &[u8] {
    match text {
        [rest @ .., b'_', code] if matches!(NIBBLE[usize::from(*code)], 9..=15) => rest,
        _ => text,
    }
}

/// Pairs of digits, dots allowed between them.
fn bytes(frame: &mut CanFrame, text: &[u8], most: usize) -> Result<(), Malformed> {
    let mut rest = raw_length_code(text);
    let (payload, len) = frame.payload_mut();
    let mut count = 0;
    while let [first, second, tail @ ..] = rest {
        if *first == b'.' {
            rest = &rest[1..];
            continue;
        }
        let (high, low) = (NIBBLE[usize::from(*first)], NIBBLE[usize::from(*second)]);
        if high | low > 15 || count == most {
            return Err(Malformed::Data);
        }
        payload[count] = high << 4 | low;
        count += 1;
        rest = tail;
    }
    if !rest.is_empty() {
        return Err(Malformed::Data);
    }
    *len = count as u8;
    Ok(())
}
