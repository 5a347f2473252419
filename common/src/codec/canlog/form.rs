//! Which form a log has.

use super::asc::Asc;
use super::console::{self, Console, FIRST_UNIX_US, Stamp};
use super::times::Times;
use super::trc::Trc;
use super::{LineKind, LogTimes};
use crate::codec::can::{CanFrame, FrameKind};
use crate::codec::candump::{Malformed, parse_line};

/// Lines of the head that must not all be strange.
const LINES_LOOKED_AT: usize = 60;

/// The form of a log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LogForm {
    /// `candump -l` or `candump -L`.
    Candump,
    /// candump on the console.
    Console(Times),
    /// Vector ASC.
    Asc(Times),
    /// PEAK TRC.
    Trc(Times),
}

impl LogForm {
    /// What the times in the log are.
    #[must_use]
    pub fn times(self) -> Times {
        match self {
            LogForm::Candump => Times::Unix,
            LogForm::Console(times) | LogForm::Asc(times) | LogForm::Trc(times) => times,
        }
    }

    /// The name for a message.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            LogForm::Candump => "a candump log",
            LogForm::Console(_) => "what candump prints on the console",
            LogForm::Asc(_) => "an ASC log",
            LogForm::Trc(_) => "a TRC log",
        }
    }
}

/// Reads the lines of one form.
#[derive(Debug, Clone)]
pub(in crate::codec) enum FormReader {
    Candump,
    Console(Console),
    Asc(Box<Asc>),
    Trc(Box<Trc>),
}

impl FormReader {
    pub(in crate::codec) fn new(form: LogForm) -> Self {
        match form {
            LogForm::Candump => FormReader::Candump,
            LogForm::Console(times) => FormReader::Console(Console::new(times)),
            LogForm::Asc(_) => FormReader::Asc(Box::new(Asc::new())),
            LogForm::Trc(_) => FormReader::Trc(Box::new(Trc::new())),
        }
    }

    /// Reads a line of a form other than candump's own; `None` for that one.
    #[inline]
    pub(in crate::codec) fn line(
        &mut self,
        line: &[u8],
        times: &LogTimes,
        out: &mut CanFrame,
    ) -> Option<Result<LineKind, Malformed>> {
        match self {
            FormReader::Candump => None,
            FormReader::Console(reader) => Some(reader.line(line, times, out)),
            FormReader::Asc(reader) => Some(reader.line(line, times, out)),
            FormReader::Trc(reader) => Some(reader.line(line, times, out)),
        }
    }
}

/// Tells the form of a log from its first bytes; `None` when it holds no frame
/// of a form known here.
///
/// ```
/// use seep_common::codec::canlog::{LogForm, Times, recognise};
/// let console = b"  can0  123   [2]  11 22\n";
/// assert_eq!(recognise(console), Some(LogForm::Console(Times::Missing)));
/// assert_eq!(recognise(b"(1.0) can0 123#1122\n"), Some(LogForm::Candump));
/// assert_eq!(recognise(b"time,front_left\n"), None);
/// ```
#[must_use]
pub fn recognise(head: &[u8]) -> Option<LogForm> {
    let lines = || {
        head.split(|&b| b == b'\n')
            .map(|line| line.strip_suffix(b"\r").unwrap_or(line))
            .take(LINES_LOOKED_AT)
    };
    if lines().any(|line| parse_line(line.trim_ascii_end()).is_ok()) {
        return Some(LogForm::Candump);
    }
    let mut frame = CanFrame::empty(0, false, FrameKind::Data);
    let start = LogTimes::new(Some(0), |civil_us, _| civil_us);
    let mut trc = Trc::new();
    for line in lines() {
        let _ = trc.line(line, &start, &mut frame);
    }
    if trc.is_known() {
        return Some(LogForm::Trc(trc.scale()));
    }
    let mut asc = Asc::new();
    for line in lines() {
        let _ = asc.line(line, &start, &mut frame);
    }
    if asc.is_known() {
        return Some(LogForm::Asc(asc.scale()));
    }
    let stamps: Vec<Stamp> = (head.split(|&b| b == b'\n'))
        .filter_map(|line| console::parse(line.trim_ascii(), &mut frame).ok())
        .collect();
    console_times(&stamps).map(LogForm::Console)
}

/// Times since a start never go back; times since the line before soon do.
fn console_times(stamps: &[Stamp]) -> Option<Times> {
    let seconds: Vec<i64> = (stamps.iter())
        .filter_map(|stamp| match stamp {
            Stamp::Seconds(us) => Some(*us),
            _ => None,
        })
        .collect();
    match stamps.first()? {
        Stamp::None => Some(Times::Missing),
        Stamp::Civil(_) => Some(Times::Civil),
        Stamp::Seconds(first) if *first >= FIRST_UNIX_US => Some(Times::Unix),
        Stamp::Seconds(_) if seconds.is_sorted() => Some(Times::SinceStart),
        Stamp::Seconds(_) => Some(Times::BetweenLines),
    }
}
