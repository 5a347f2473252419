//! Vector ASC.
//!
//! ```text
//! date Sun Aug 10 10:00:00.250 2025
//! base hex  timestamps absolute
//! Begin Triggerblock Sun Aug 10 10:00:00.250 2025
//!    0.000000 Start of measurement
//!    0.249713 1  18FE58FEx       Rx   d 8 03 14 7B 13 C5 18 FF FF  Length = …
//!    0.349713 1  123             Rx   r 2
//!    0.449713 1  ErrorFrame
//!    0.549713 CANFD   1 Rx        123                                  1 0 9 12 00 …
//! ```
//!
//! Times count from the date of the first trigger block, or of the head where
//! there is none. `timestamps relative` counts from the line before. A later
//! trigger block starts at its own date where the times go back with it (from
//! memory, unverified). Channel 1 is `can0`.

use super::times::Times;
use super::words::{bytes, frame, integer, length_of_code, micros, number, time_of_day_us, word};
use super::{LineKind, LogTimes};
use crate::codec::calendar::Civil;
use crate::codec::can::{CanFrame, Direction, FrameKind, InterfaceName, MAX_CLASSIC_BYTES};
use crate::codec::candump::Malformed;

/// Reads ASC lines; knows the base, the start and the time so far.
#[derive(Debug, Clone)]
pub(in crate::codec) struct Asc {
    base: u32,
    between_lines: bool,
    /// Civil date of the log's zero, µs, and whether a trigger block gave it.
    start: Option<(i64, bool)>,
    /// Date of a trigger block whose first line has not come yet.
    pending: Option<i64>,
    offset_us: i64,
    last_us: i64,
    /// Some line of the form has been seen.
    known: bool,
}

impl Asc {
    pub(super) fn new() -> Self {
        Asc {
            base: 16,
            between_lines: false,
            start: None,
            pending: None,
            offset_us: 0,
            last_us: i64::MIN,
            known: false,
        }
    }

    /// Whether the lines so far are of this form: a head or a frame.
    pub(super) fn is_known(&self) -> bool {
        self.known
    }

    /// What the times of the log count from.
    pub(super) fn scale(&self) -> Times {
        if self.start.is_some() {
            Times::Civil
        } else {
            Times::SinceStart
        }
    }

    pub(super) fn line(
        &mut self,
        line: &[u8],
        times: &LogTimes,
        out: &mut CanFrame,
    ) -> Result<LineKind, Malformed> {
        let (first, rest) = word(line);
        let Some(stamp_us) = micros(first, 1_000_000).filter(|_| first.contains(&b'.')) else {
            return self.head(first, rest).ok_or(Malformed::Timestamp);
        };
        let unix_us = self.time(stamp_us, times);
        let Some(frame) = self.event(rest)? else {
            return Ok(LineKind::Event);
        };
        self.known = true;
        *out = frame;
        out.t_us = unix_us.ok_or(Malformed::Timestamp)?;
        self.last_us = out.t_us;
        Ok(LineKind::Frame)
    }

    /// Lines without a time.
    fn head(&mut self, first: &[u8], rest: &[u8]) -> Option<LineKind> {
        let first = first.to_ascii_lowercase();
        match &first[..] {
            b"date" => {
                self.known = true;
                if let Some(us) = date_us(rest) {
                    self.start = Some((us, false));
                }
            }
            b"base" => {
                let (base, rest) = word(rest);
                self.base = if base.eq_ignore_ascii_case(b"dec") {
                    10
                } else {
                    16
                };
                let relative = rest.to_ascii_lowercase();
                self.between_lines =
                    relative.ends_with(b"relative") || contains(&relative, b"relative");
                self.known = true;
            }
            b"begin" => {
                let (_block, date) = word(rest);
                self.pending = date_us(date);
            }
            b"" | b"end" | b"internal" | b"no" | b"previous" => {}
            remark
                if remark.starts_with(b"//")
                    || remark.starts_with(b"#")
                    || remark.starts_with(b";") => {}
            _ => return None,
        }
        Some(LineKind::Comment)
    }

    fn time(&mut self, stamp_us: i64, times: &LogTimes) -> Option<i64> {
        let goes_back = stamp_us < self.offset_us && !self.between_lines;
        if let Some(date) = self.pending.take()
            && (goes_back || !matches!(self.start, Some((_, true))))
        {
            self.start = Some((date, true));
        }
        self.offset_us = if self.between_lines {
            self.offset_us.checked_add(stamp_us)?
        } else {
            stamp_us
        };
        let start_us = match self.start {
            Some((civil, _)) => times.unix_us(civil, i64::MIN),
            None => times.start_us?,
        };
        start_us.checked_add(self.offset_us)
    }

    /// What follows the time: a frame, or something else that happened.
    fn event(&self, rest: &[u8]) -> Result<Option<CanFrame>, Malformed> {
        let (first, after) = word(rest);
        if first == b"CANFD" {
            return self.fd(after);
        }
        let Some(channel) = integer(first) else {
            return Ok(None);
        };
        let (id, after) = word(after);
        let mut frame = if id.eq_ignore_ascii_case(b"errorframe") {
            CanFrame::empty(0, false, FrameKind::Error)
        } else {
            let (direction, after) = word(after);
            let Some(direction) = direction_of(direction) else {
                return Ok(None); // Statistics and transport messages have no direction here.
            };
            let mut frame = self.identifier(id)?;
            frame.direction = direction;
            self.classic(frame, after)?
        };
        frame.interface = interface(channel).ok_or(Malformed::Interface)?;
        Ok(Some(frame))
    }

    fn classic(&self, mut frame: CanFrame, rest: &[u8]) -> Result<CanFrame, Malformed> {
        let (kind, rest) = word(rest);
        let (code, rest) = word(rest);
        let length = if code.is_empty() && kind.eq_ignore_ascii_case(b"r") {
            0
        } else {
            number(code, self.base)
                .and_then(|code| length_of_code(code, false))
                .ok_or(Malformed::Data)?
        };
        match kind {
            b"r" | b"R" => Ok(frame.into_remote(length as u8)),
            b"d" | b"D" => {
                bytes(rest, self.base, length.min(MAX_CLASSIC_BYTES), &mut frame);
                if usize::from(frame.length()) == length {
                    Ok(frame)
                } else {
                    Err(Malformed::Data)
                }
            }
            _ => Err(Malformed::Data),
        }
    }

    /// `CANFD channel direction id [name] switch state code length data …`.
    fn fd(&self, rest: &[u8]) -> Result<Option<CanFrame>, Malformed> {
        let (channel, rest) = word(rest);
        let (direction, rest) = word(rest);
        let (id, rest) = word(rest);
        let channel = integer(channel)
            .and_then(interface)
            .ok_or(Malformed::Interface)?;
        let direction = direction_of(direction).ok_or(Malformed::Trailing)?;
        let mut frame = if id.eq_ignore_ascii_case(b"errorframe") {
            CanFrame::empty(0, false, FrameKind::Error)
        } else {
            let (mut switch, mut rest) = word(rest);
            if integer(switch).is_none() {
                (switch, rest) = word(rest); // A name stood there.
            }
            let (state, rest) = word(rest);
            let (code, rest) = word(rest);
            let (length, rest) = word(rest);
            self.fd_payload(id, [switch, state, code, length], rest)?
        };
        frame.interface = channel;
        frame.direction = direction;
        Ok(Some(frame))
    }

    fn fd_payload(
        &self,
        id: &[u8],
        [switch, state, code, length]: [&[u8]; 4],
        rest: &[u8],
    ) -> Result<CanFrame, Malformed> {
        let mut frame = self.identifier(id)?;
        let length = integer(length).ok_or(Malformed::Data)? as usize;
        let code = number(code, 16).ok_or(Malformed::Data)?;
        if length == 0 && code > 0 {
            return Ok(frame.into_remote(code.min(8) as u8));
        }
        bytes(rest, self.base, length, &mut frame);
        if usize::from(frame.length()) != length {
            return Err(Malformed::Data);
        }
        frame.fd_flags = Some(u8::from(switch == b"1") | u8::from(state == b"1") << 1);
        Ok(frame)
    }

    /// `18FE58FEx` or `123`.
    fn identifier(&self, text: &[u8]) -> Result<CanFrame, Malformed> {
        let (digits, extended) = match text {
            [digits @ .., b'x' | b'X'] => (digits, true),
            _ => (text, false),
        };
        number(digits, self.base)
            .and_then(|id| frame(id, extended))
            .ok_or(Malformed::Identifier)
    }
}

fn direction_of(text: &[u8]) -> Option<Direction> {
    match text {
        b"Rx" => Some(Direction::Received),
        b"Tx" | b"TxRq" => Some(Direction::Sent),
        _ => None,
    }
}

/// Channels count from 1 there, interfaces from 0 here.
fn interface(channel: i64) -> Option<InterfaceName> {
    let name = format!("can{}", channel.checked_sub(1).filter(|n| *n >= 0)?);
    InterfaceName::new(name.as_bytes())
}

fn contains(text: &[u8], what: &[u8]) -> bool {
    text.windows(what.len()).any(|w| w == what)
}

/// `Sun Aug 10 10:00:00.250 2025` or `Sun Aug 10 10:00:00.250 am 2025`.
fn date_us(text: &[u8]) -> Option<i64> {
    let mut words = text
        .split(u8::is_ascii_whitespace)
        .filter(|w| !w.is_empty());
    let _weekday = words.next()?;
    let month = month(words.next()?)?;
    let day = integer(words.next()?)?;
    let mut of_day_us = time_of_day_us(words.next()?)?;
    let mut last = words.next()?;
    let half = last.to_ascii_lowercase();
    if matches!(&half[..], b"am" | b"pm") {
        let half_day_us = 12 * 3_600_000_000;
        of_day_us = of_day_us % half_day_us + if half == b"pm" { half_day_us } else { 0 };
        last = words.next()?;
    }
    let year = integer(last)?;
    Civil {
        year,
        month,
        day,
        of_day_us,
    }
    .us()
}

/// Number of an English or German month of three letters.
fn month(text: &[u8]) -> Option<i64> {
    const MONTHS: [&[&str]; 12] = [
        &["Jan"],
        &["Feb"],
        &["Mar", "Mär", "Mrz"],
        &["Apr"],
        &["May", "Mai"],
        &["Jun"],
        &["Jul"],
        &["Aug"],
        &["Sep"],
        &["Oct", "Okt"],
        &["Nov"],
        &["Dec", "Dez"],
    ];
    let text = std::str::from_utf8(text).ok()?;
    let at = MONTHS.iter().position(|names| names.contains(&text))?;
    Some(at as i64 + 1)
}
