//! Bytes in any portions to frames.

use super::canonical::canonical;
use super::parse::{Malformed, any_form};
use crate::codec::can::{CanFrame, FrameKind};
use crate::codec::canlog::{FormReader, LineKind, LogForm, LogTimes};

/// Longest line that is looked at. A CAN FD frame with dots needs under 270.
const MOST_LINE_BYTES: usize = 512;

/// How many bad lines are kept for the message to the user.
const BAD_LINES_KEPT: usize = 8;

/// What a reader has met so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LineCounts {
    /// Lines, of any kind.
    pub lines: u64,
    /// Frames handed on.
    pub frames: u64,
    /// Empty lines and comments.
    pub comments: u64,
    /// Lines of other things than frames, such as a status or a marker.
    pub other_events: u64,
    /// Lines that are not frames, overlong ones included.
    pub malformed: u64,
    /// Frames that the writer of the log says it lost (`DROPCOUNT` lines).
    pub dropped_by_writer: u64,
}

impl LineCounts {
    /// Every count with its name, as it is recorded.
    #[must_use]
    pub fn named(&self) -> [(&'static str, u64); 6] {
        [
            ("log_lines", self.lines),
            ("log_frames", self.frames),
            ("log_comments", self.comments),
            ("log_other_events", self.other_events),
            ("log_malformed_lines", self.malformed),
            ("dropped_by_log_writer", self.dropped_by_writer),
        ]
    }
}

/// One line that could not be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BadLine {
    /// Line number, from 1.
    pub line: u64,
    /// What is wrong.
    pub what: Malformed,
}

/// Reads a text log of frames fed to it in portions of any size.
///
/// Splitting the bytes elsewhere gives the same frames. Memory is bounded by one
/// line. Bad lines are counted and the first few kept with their numbers.
///
/// ```
/// use seep_common::codec::candump::LineReader;
/// let mut reader = LineReader::new();
/// let mut ids = Vec::new();
/// for part in [&b"(1.000000) can0 123#1"[..], b"1\nnoise\n(2.0) can0 124#\n"] {
///     reader.push(part, &mut |frame| ids.push(frame.id));
/// }
/// reader.finish();
/// assert_eq!(ids, [0x123, 0x124]);
/// assert_eq!(reader.bad_lines()[0].line, 2);
/// ```
#[derive(Debug, Clone)]
pub struct LineReader {
    carry: Vec<u8>,
    overlong: bool,
    counts: LineCounts,
    bad: Vec<BadLine>,
    frame: CanFrame,
    form: FormReader,
    times: LogTimes,
}

impl Default for LineReader {
    fn default() -> Self {
        Self::new()
    }
}

impl LineReader {
    /// A reader at the start of a candump log.
    #[must_use]
    pub fn new() -> Self {
        LineReader::of(LogForm::Candump, LogTimes::default())
    }

    /// A reader at the start of a log of any form.
    ///
    /// ```
    /// use seep_common::codec::candump::LineReader;
    /// use seep_common::codec::canlog::{LogTimes, recognise};
    /// let log = b"date Sun Aug 10 10:00:00.250 2025\nbase hex  timestamps absolute\n\
    ///     0.500000 1  18FE58FEx       Rx   d 2 03 14\n";
    /// let mut reader = LineReader::of(recognise(log).unwrap(), LogTimes::default());
    /// let mut times = Vec::new();
    /// reader.push(log, &mut |frame| times.push(frame.t_us));
    /// assert_eq!(times, [1_754_820_000_750_000]);
    /// ```
    #[must_use]
    pub fn of(form: LogForm, times: LogTimes) -> Self {
        LineReader {
            carry: Vec::with_capacity(MOST_LINE_BYTES),
            overlong: false,
            counts: LineCounts::default(),
            bad: Vec::with_capacity(BAD_LINES_KEPT),
            frame: CanFrame::empty(0, false, FrameKind::Data),
            form: FormReader::new(form),
            times,
        }
    }

    /// Take the next bytes and hand on every frame completed by them.
    pub fn push(&mut self, mut bytes: &[u8], sink: &mut impl FnMut(&CanFrame)) {
        while let Some(end) = line_end(bytes) {
            let (line, rest) = (&bytes[..end], &bytes[end + 1..]);
            if self.carry.is_empty() && !self.overlong {
                self.line(line, sink);
            } else {
                self.gather(line);
                let mut carry = std::mem::take(&mut self.carry);
                self.line(&carry, sink);
                carry.clear();
                self.carry = carry;
                self.overlong = false;
            }
            bytes = rest;
        }
        self.gather(bytes);
    }

    /// Say that no more bytes come. A last line without its line feed is
    /// counted as malformed, because it may have lost part of its data.
    pub fn finish(&mut self) {
        if self.overlong || !self.carry.is_empty() {
            self.counts.lines += 1;
            self.count_bad(Malformed::Unterminated);
            self.carry.clear();
            self.overlong = false;
        }
    }

    /// What has been met so far.
    #[must_use]
    pub fn counts(&self) -> LineCounts {
        self.counts
    }

    /// The first bad lines.
    #[must_use]
    pub fn bad_lines(&self) -> &[BadLine] {
        &self.bad
    }

    #[cfg(test)]
    pub(super) fn carry_capacity(&self) -> usize {
        self.carry.capacity()
    }

    fn gather(&mut self, bytes: &[u8]) {
        if self.overlong || self.carry.len() + bytes.len() > MOST_LINE_BYTES {
            self.overlong = true;
            self.carry.clear();
        } else {
            self.carry.extend_from_slice(bytes);
        }
    }

    fn line(&mut self, line: &[u8], sink: &mut impl FnMut(&CanFrame)) {
        self.counts.lines += 1;
        if self.overlong || line.len() > MOST_LINE_BYTES {
            return self.count_bad(Malformed::Overlong);
        }
        match self.form.line(line, &self.times, &mut self.frame) {
            None => {}
            Some(Ok(LineKind::Frame)) => {
                self.counts.frames += 1;
                return sink(&self.frame);
            }
            Some(Ok(LineKind::Comment)) => {
                self.counts.comments += 1;
                return;
            }
            Some(Ok(LineKind::Event)) => {
                self.counts.other_events += 1;
                return;
            }
            Some(Err(what)) => return self.not_a_frame(line.trim_ascii(), what),
        }
        if !canonical(line, &mut self.frame) {
            match any_form(line) {
                Ok(frame) => self.frame = frame,
                Err(what) => return self.not_a_frame(line.trim_ascii(), what),
            }
        }
        self.counts.frames += 1;
        sink(&self.frame);
    }

    fn not_a_frame(&mut self, line: &[u8], what: Malformed) {
        if matches!(line, [] | [b'#' | b';', ..]) {
            self.counts.comments += 1;
        } else if let Some(dropped) = dropped_by_writer(line) {
            self.counts.dropped_by_writer = self.counts.dropped_by_writer.saturating_add(dropped);
        } else {
            self.count_bad(what);
        }
    }

    fn count_bad(&mut self, what: Malformed) {
        self.counts.malformed += 1;
        if self.bad.len() < BAD_LINES_KEPT {
            self.bad.push(BadLine {
                line: self.counts.lines,
                what,
            });
        }
    }
}

/// Where the next line feed is, eight bytes at a time.
#[inline]
fn line_end(bytes: &[u8]) -> Option<usize> {
    let (words, rest) = bytes.as_chunks::<8>();
    for (i, word) in words.iter().enumerate() {
        // Zero where a line feed stands; then the textbook test for a zero byte,
        // whose lowest mark is exact.
        let other = u64::from_le_bytes(*word) ^ 0x0A0A_0A0A_0A0A_0A0A;
        let zero = other.wrapping_sub(0x0101_0101_0101_0101) & !other & 0x8080_8080_8080_8080;
        if zero != 0 {
            return Some(8 * i + (zero.trailing_zeros() / 8) as usize);
        }
    }
    let at = rest.iter().position(|&b| b == b'\n')?;
    Some(bytes.len() - rest.len() + at)
}

/// `DROPCOUNT: dropped 3 CAN frames on 'can0' socket (total drops 3)`.
fn dropped_by_writer(line: &[u8]) -> Option<u64> {
    let rest = line.strip_prefix(b"DROPCOUNT: dropped ")?;
    let end = rest.iter().position(|b| !b.is_ascii_digit())?;
    std::str::from_utf8(&rest[..end]).ok()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::line_end;

    #[test]
    fn a_line_feed_is_found_wherever_it_stands() {
        for length in 0..40 {
            // Bytes next to a line feed in value must not be taken for one.
            for filler in [0x00, 0x09, 0x0B, 0x8A, 0xFF] {
                let mut bytes = vec![filler; length];
                assert_eq!(line_end(&bytes), None);
                for at in (0..length).rev() {
                    bytes[at] = b'\n';
                    assert_eq!(line_end(&bytes), Some(at));
                }
            }
        }
    }
}
