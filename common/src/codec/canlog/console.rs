//! What candump prints on the console.
//!
//! ```text
//!  (1436509052.249713)  can0  18FE58FE   [8]  03 14 7B 13 C5 18 FF FF     -t a
//!  (2015-07-10 08:17:32.249713)  can0  123   [2]  remote request          -t A
//!  (000.249713)  can0  RX B -  123  [08]  11 22 33 44 55 66 77 88         -t z, -x, CAN FD
//!   can0  123   [2]  11 22   '."'                                         no time, -a
//!   can0  20000088   [8]  00 00 08 00 00 00 00 00   ERRORFRAME
//! ```
//!
//! Three digits make an 11 bit identifier, eight a 29 bit one. A length of two
//! digits marks CAN FD. A line without `[length]` has as many bytes as it shows.

use super::times::Times;
use super::words::{bytes, frame, iso_civil_us, micros, number, word};
use super::{LineKind, LogTimes};
use crate::codec::can::{
    CanFrame, Direction, FrameKind, InterfaceName, MAX_CLASSIC_BYTES, MAX_EXTENDED_ID, MAX_FD_BYTES,
};
use crate::codec::candump::{self, ERROR_FLAG, Malformed, STAMP_BYTES, without_name};

/// The time in front of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stamp {
    /// There is none.
    None,
    /// `(1436509052.249713)` or `(000.249713)`, µs.
    Seconds(i64),
    /// `(2015-07-10 08:17:32.249713)`, civil µs.
    Civil(i64),
}

/// Stamps below this are times since a start, not since 1970 (1973-03-03), µs.
pub(super) const FIRST_UNIX_US: i64 = 100_000_000_000_000;

/// Reads console lines; knows what the stamps mean and the time so far.
#[derive(Debug, Clone)]
pub(in crate::codec) struct Console {
    scale: Times,
    last_us: Option<i64>,
}

impl Console {
    pub(super) fn new(scale: Times) -> Self {
        Console {
            scale,
            last_us: None,
        }
    }

    pub(super) fn line(
        &mut self,
        line: &[u8],
        times: &LogTimes,
        out: &mut CanFrame,
    ) -> Result<LineKind, Malformed> {
        let line = line.trim_ascii();
        if matches!(line, [] | [b'#' | b';', ..]) {
            return Ok(LineKind::Comment);
        }
        let stamp = parse(line, out)?;
        let start_us = self.last_us.or(times.start_us);
        let t_us = match (stamp, self.scale) {
            (Stamp::Seconds(us), Times::Unix) => Some(us),
            (Stamp::Civil(us), _) => Some(times.unix_us(us, self.last_us.unwrap_or(i64::MIN))),
            (Stamp::Seconds(us), Times::BetweenLines) => start_us.and_then(|s| s.checked_add(us)),
            (Stamp::Seconds(us), _) => times.start_us.and_then(|s| s.checked_add(us)),
            (Stamp::None, _) => None,
        };
        out.t_us = t_us.ok_or(Malformed::Timestamp)?;
        self.last_us = Some(out.t_us);
        Ok(LineKind::Frame)
    }
}

/// Takes a line without space around it apart; the time of the frame is not set.
/// The interface that stands in the frame is expected again.
pub(super) fn parse(line: &[u8], frame: &mut CanFrame) -> Result<Stamp, Malformed> {
    let (stamp, rest) = stamp(line).ok_or(Malformed::Timestamp)?;
    let (interface, rest) = interface(rest, frame.interface).ok_or(Malformed::Interface)?;
    let (direction, id, rest) = direction_and_id(rest);
    *frame = identifier(id).ok_or(Malformed::Identifier)?;
    frame.interface = interface;
    frame.direction = direction;
    let (length, rest) = length(rest).ok_or(Malformed::Data)?;
    let rest = if let Some(tail) = rest.trim_ascii_start().strip_prefix(b"remote request") {
        *frame = frame.into_remote(length.unwrap_or((0, false)).0 as u8);
        tail
    } else {
        payload(frame, length, rest)?
    };
    match rest.trim_ascii() {
        [] | b"ERRORFRAME" | [b'\'', .., b'\''] => Ok(stamp),
        _ => Err(Malformed::Trailing),
    }
}

#[inline]
fn interface(text: &[u8], expected: InterfaceName) -> Option<(InterfaceName, &[u8])> {
    if let Some(rest) = without_name(text.trim_ascii_start(), expected) {
        return Some((expected, rest));
    }
    let (name, rest) = word(text);
    Some((InterfaceName::new(name)?, rest))
}

fn payload<'a>(
    frame: &mut CanFrame,
    length: Option<(usize, bool)>,
    rest: &'a [u8],
) -> Result<&'a [u8], Malformed> {
    let fd = length.is_some_and(|l| l.1);
    let most = if fd { MAX_FD_BYTES } else { MAX_CLASSIC_BYTES };
    if length.is_some_and(|l| l.0 > most) {
        return Err(Malformed::Data);
    }
    let rest = bytes(rest, 16, most, frame);
    if length.is_some_and(|l| l.0 != usize::from(frame.length())) {
        return Err(Malformed::Data);
    }
    if fd {
        frame.fd_flags = Some(0);
    }
    Ok(rest)
}

fn stamp(line: &[u8]) -> Option<(Stamp, &[u8])> {
    // Seconds since 1970 nearly always; then their digits are taken together.
    if let Some((head, rest)) = line.split_first_chunk::<STAMP_BYTES>()
        && let Some(us) = candump::micros(head)
    {
        return Some((Stamp::Seconds(us), rest));
    }
    let Some(rest) = line.strip_prefix(b"(") else {
        return Some((Stamp::None, line));
    };
    let end = rest.iter().position(|b| *b == b')')?;
    let (inside, rest) = (&rest[..end], &rest[end + 1..]);
    let (first, second) = word(inside);
    let stamp = if second.is_empty() {
        Stamp::Seconds(micros(first, 1_000_000)?)
    } else {
        Stamp::Civil(iso_civil_us(first, second.trim_ascii())?)
    };
    Some((stamp, rest))
}

/// The identifier, where `candump -x` prints `RX B E` before it: direction and the
/// flags of CAN FD.
fn direction_and_id(text: &[u8]) -> (Direction, &[u8], &[u8]) {
    let (first, rest) = word(text);
    let direction = match first {
        b"RX" => Direction::Received,
        b"TX" => Direction::Sent,
        _ => return (Direction::Unknown, first, rest),
    };
    let (_switch, rest) = word(rest);
    let (_state, rest) = word(rest);
    let (id, rest) = word(rest);
    (direction, id, rest)
}

fn identifier(text: &[u8]) -> Option<CanFrame> {
    let id = number(text, 16)?;
    match (text.len(), id) {
        (3, _) => frame(id, false),
        (8, ERROR_FLAG..=0x3FFF_FFFF) => Some(CanFrame::empty(
            id & MAX_EXTENDED_ID,
            false,
            FrameKind::Error,
        )),
        (8, _) => frame(id, true),
        _ => None,
    }
}

/// `[8]` or, for CAN FD, `[08]`, and what follows; no length where there is none.
#[allow(clippy::type_complexity)]
fn length(text: &[u8]) -> Option<(Option<(usize, bool)>, &[u8])> {
    let text = text.trim_ascii_start();
    let [b'[', rest @ ..] = text else {
        return Some((None, text));
    };
    let end = rest.iter().position(|b| *b == b']')?;
    let length = number(&rest[..end], 10)? as usize;
    Some((Some((length, end == 2)), &rest[end + 1..]))
}
