//! PEAK TRC, versions 1.0 to 2.1.
//!
//! ```text
//! ;$FILEVERSION=2.1
//! ;$STARTTIME=45879.4166695602
//! ;$COLUMNS=N,O,T,B,I,d,R,L,D
//!       1       249.713 DT  1 18FE58FE Rx -  8    03 14 7B 13 C5 18 FF FF
//! ```
//!
//! | Version | Columns |
//! |---|---|
//! | 1.0 | number `)`, ms, identifier, length, data |
//! | 1.1 | number `)`, ms, direction, identifier, length, data |
//! | 1.2 | number `)`, ms, bus, direction, identifier, length, data (from memory, unverified) |
//! | 1.3 | number `)`, ms, bus, direction, identifier, `-`, length, data |
//! | 2.0, 2.1 | as `$COLUMNS` says |
//!
//! The start is a date without a zone: days since 1899-12-30, or in version 1.0 a
//! remark. Identifiers of more than four digits have 29 bits. Bus 1 is `can0`.

use super::times::Times;
use super::words::{bytes, frame, integer, iso_civil_us, length_of_code, micros, number, word};
use super::{LineKind, LogTimes};
use crate::codec::can::{CanFrame, Direction, FrameKind, InterfaceName, MAX_CLASSIC_BYTES};
use crate::codec::candump::Malformed;

/// Days from 1899-12-30 to 1970-01-01.
const DAYS_TO_1970: i64 = 25_569;

/// The columns of version 2 where the head names none.
const COLUMNS: &[u8] = b"N,O,T,I,d,l,D";

/// Reads TRC lines; knows the version, the columns and the start.
#[derive(Debug, Clone)]
pub(in crate::codec) struct Trc {
    /// Major and minor version.
    version: (u32, u32),
    columns: Vec<u8>,
    /// Civil date of the log's zero, µs.
    start: Option<i64>,
    /// Some line of the form has been seen.
    known: bool,
}

/// The parts of a line that matter.
#[derive(Default)]
struct Parts<'a> {
    time: &'a [u8],
    kind: &'a [u8],
    bus: &'a [u8],
    id: &'a [u8],
    direction: &'a [u8],
    length: &'a [u8],
    is_code: bool,
    data: &'a [u8],
}

impl Trc {
    pub(super) fn new() -> Self {
        Trc {
            version: (1, 0),
            columns: COLUMNS.iter().copied().filter(|b| *b != b',').collect(),
            start: None,
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
        match line.trim_ascii() {
            [] | [b'#', ..] => Ok(LineKind::Comment),
            [b';', remark @ ..] => {
                self.head(remark);
                Ok(LineKind::Comment)
            }
            line => self.frame(line, times, out),
        }
    }

    fn head(&mut self, remark: &[u8]) {
        if let Some(version) = remark.strip_prefix(b"$FILEVERSION=") {
            self.known = true;
            let mut parts = version.trim_ascii().split(|b| *b == b'.').map(integer);
            if let (Some(Some(major)), Some(Some(minor))) = (parts.next(), parts.next()) {
                self.version = (major as u32, minor as u32);
            }
        } else if let Some(days) = remark.strip_prefix(b"$STARTTIME=") {
            self.start = start_us(days.trim_ascii());
        } else if let Some(columns) = remark.strip_prefix(b"$COLUMNS=") {
            let columns = columns.trim_ascii().split(|b| *b == b',');
            self.columns = columns.filter_map(|c| c.first().copied()).collect();
        } else if self.start.is_none()
            && let Some(date) = remark.trim_ascii_start().strip_prefix(b"Start time:")
        {
            let (date, time) = word(date);
            let (time, _zone) = word(time);
            let time = time.split(|b| *b == b'+').next().unwrap_or_default();
            self.start = iso_civil_us(date, time);
        }
    }

    fn frame(
        &mut self,
        line: &[u8],
        times: &LogTimes,
        out: &mut CanFrame,
    ) -> Result<LineKind, Malformed> {
        let parts = self.parts(line).ok_or(Malformed::Timestamp)?;
        let offset_us = micros(parts.time, 1_000).ok_or(Malformed::Timestamp)?;
        let Some(mut frame) = read(&parts)? else {
            return Ok(LineKind::Event);
        };
        self.known = true;
        let start_us = match self.start {
            Some(civil) => Some(times.unix_us(civil, i64::MIN)),
            None => times.start_us,
        };
        frame.t_us = start_us
            .and_then(|start| start.checked_add(offset_us))
            .ok_or(Malformed::Timestamp)?;
        *out = frame;
        Ok(LineKind::Frame)
    }

    fn parts<'a>(&self, line: &'a [u8]) -> Option<Parts<'a>> {
        match self.version {
            (2, _) => Some(self.by_columns(line)),
            (1, minor) => version_1(line, minor),
            _ => None,
        }
    }

    fn by_columns<'a>(&self, line: &'a [u8]) -> Parts<'a> {
        let mut parts = Parts::default();
        let mut rest = line;
        for column in &self.columns {
            if *column == b'D' {
                parts.data = rest;
                break;
            }
            let (text, after) = word(rest);
            match column {
                b'O' => parts.time = text,
                b'T' => parts.kind = text,
                b'B' => parts.bus = text,
                b'I' => parts.id = text,
                b'd' => parts.direction = text,
                b'l' => parts.length = text,
                b'L' => (parts.length, parts.is_code) = (text, true),
                _ => {}
            }
            rest = after;
        }
        parts
    }
}

/// Versions 1.x: the number ends with a bracket, which tells the form.
fn version_1(line: &[u8], minor: u32) -> Option<Parts<'_>> {
    let (number, rest) = word(line);
    integer(number.strip_suffix(b")")?)?;
    let mut parts = Parts {
        kind: b"DT",
        ..Parts::default()
    };
    let mut next = rest;
    let mut take = || {
        let (text, after) = word(next);
        next = after;
        text
    };
    parts.time = take();
    if minor >= 2 {
        parts.bus = take();
    }
    if minor >= 1 {
        parts.direction = take();
    }
    parts.id = take();
    if minor >= 3 {
        take();
    }
    parts.length = take();
    parts.data = next;
    // Warnings and errors stand where the direction of a frame does; a status of
    // the bus has an identifier of its own.
    let is_frame =
        (minor == 0 || matches!(parts.direction, b"Rx" | b"Tx")) && parts.id != b"FFFFFFFF";
    if !is_frame {
        parts.kind = b"";
    }
    Some(parts)
}

fn read(parts: &Parts<'_>) -> Result<Option<CanFrame>, Malformed> {
    let mut frame = match parts.kind {
        b"ER" => CanFrame::empty(0, false, FrameKind::Error),
        b"DT" | b"RR" | b"FD" | b"FB" | b"FE" | b"BI" => payload(parts)?,
        _ => return Ok(None),
    };
    frame.interface = interface(parts.bus).ok_or(Malformed::Interface)?;
    frame.direction = match parts.direction {
        b"Rx" => Direction::Received,
        b"Tx" => Direction::Sent,
        _ => Direction::Unknown,
    };
    Ok(Some(frame))
}

fn payload(parts: &Parts<'_>) -> Result<CanFrame, Malformed> {
    let fd = matches!(parts.kind, b"FD" | b"FB" | b"FE" | b"BI");
    let id = number(parts.id, 16).ok_or(Malformed::Identifier)?;
    let mut frame = frame(id, parts.id.len() > 4).ok_or(Malformed::Identifier)?;
    let length = number(parts.length, 10).ok_or(Malformed::Data)?;
    let length = if parts.is_code {
        length_of_code(length, fd).ok_or(Malformed::Data)?
    } else {
        length as usize
    };
    if parts.kind == b"RR" || parts.data.trim_ascii_start().starts_with(b"RTR") {
        return Ok(frame.into_remote(length as u8));
    }
    if !fd && length > MAX_CLASSIC_BYTES {
        return Err(Malformed::Data);
    }
    bytes(parts.data, 16, length, &mut frame);
    if usize::from(frame.length()) != length {
        return Err(Malformed::Data);
    }
    if fd {
        let switch = matches!(parts.kind, b"FB" | b"FE");
        let state = matches!(parts.kind, b"FE" | b"BI");
        frame.fd_flags = Some(u8::from(switch) | u8::from(state) << 1);
    }
    Ok(frame)
}

/// Buses count from 1 there, interfaces from 0 here; no column: the first.
fn interface(bus: &[u8]) -> Option<InterfaceName> {
    let bus = match bus {
        b"" | b"-" => 1,
        bus => integer(bus)?,
    };
    let name = format!("can{}", bus.checked_sub(1).filter(|n| *n >= 0)?);
    InterfaceName::new(name.as_bytes())
}

/// `45879.4166695602`: days since 1899-12-30 to civil µs.
fn start_us(days: &[u8]) -> Option<i64> {
    let text = std::str::from_utf8(days).ok()?;
    let (whole, fraction) = text.split_once('.').unwrap_or((text, "0"));
    let whole = integer(whole.as_bytes())?.checked_sub(DAYS_TO_1970)?;
    // Nine digits of a day are 0.1 ms; the whole days would cost the last ones.
    let fraction: f64 = format!("0.{fraction}").parse().ok()?;
    whole
        .checked_mul(86_400_000_000)?
        .checked_add((fraction * 86_400e6).round() as i64)
}
