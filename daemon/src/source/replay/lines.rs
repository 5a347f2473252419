//! Lines of a file or a pipe, in bounded memory whatever it holds.

use std::io::{self, BufRead, Read};

/// No line of a real log is longer, bytes.
pub(super) const LONGEST_LINE: usize = 64 * 1024;

/// What the next line is.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum TextLine<'a> {
    /// A whole line without its end.
    Whole(&'a [u8]),
    /// A line without an end, the last of the input: it may be cut anywhere.
    Cut(&'a [u8]),
    /// A line too long to be one; skipped.
    TooLong,
    /// The input ends.
    End,
}

/// Hands out one line after the other.
pub(super) struct TextLines<R> {
    reader: R,
    line: Vec<u8>,
    skipping: bool,
}

impl<R: BufRead> TextLines<R> {
    pub(super) fn new(reader: R) -> Self {
        TextLines {
            reader,
            line: Vec::new(),
            skipping: false,
        }
    }

    /// The next line, `\n` or `\r\n` taken off.
    pub(super) fn next(&mut self) -> io::Result<TextLine<'_>> {
        loop {
            self.line.clear();
            let limit = LONGEST_LINE as u64;
            let n = (&mut self.reader)
                .take(limit)
                .read_until(b'\n', &mut self.line)?;
            let ended = self.line.last() == Some(&b'\n');
            if std::mem::replace(&mut self.skipping, false) {
                self.skipping = n as u64 == limit && !ended;
                if n == 0 {
                    return Ok(TextLine::End);
                }
                continue;
            }
            if n == 0 {
                return Ok(TextLine::End);
            }
            if !ended && n as u64 == limit {
                self.skipping = true;
                return Ok(TextLine::TooLong);
            }
            let text = trimmed(&self.line);
            return Ok(if ended {
                TextLine::Whole(text)
            } else {
                TextLine::Cut(text)
            });
        }
    }
}

fn trimmed(line: &[u8]) -> &[u8] {
    let line = line.strip_suffix(b"\n").unwrap_or(line);
    line.strip_suffix(b"\r").unwrap_or(line)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(bytes: &[u8]) -> Vec<String> {
        let mut lines = TextLines::new(bytes);
        let mut out = Vec::new();
        loop {
            out.push(match lines.next().expect("memory") {
                TextLine::Whole(l) => format!("whole {}", String::from_utf8_lossy(l)),
                TextLine::Cut(l) => format!("cut {}", String::from_utf8_lossy(l)),
                TextLine::TooLong => "too long".into(),
                TextLine::End => return out,
            });
        }
    }

    #[test]
    fn tells_whole_from_cut() {
        assert_eq!(
            all(b"a\r\n\nb\nc"),
            ["whole a", "whole ", "whole b", "cut c"]
        );
        assert!(all(b"").is_empty());
    }

    #[test]
    fn a_line_without_end_is_skipped_in_bounded_memory() {
        let mut bytes = vec![b'x'; 3 * LONGEST_LINE + 17];
        bytes.extend_from_slice(b"\nnext\n");
        let mut lines = TextLines::new(bytes.as_slice());
        assert_eq!(lines.next().expect("memory"), TextLine::TooLong);
        assert_eq!(lines.next().expect("memory"), TextLine::Whole(b"next"));
        assert_eq!(lines.next().expect("memory"), TextLine::End);
        assert!(lines.line.capacity() <= 2 * LONGEST_LINE);
    }

    #[test]
    fn a_line_just_at_the_limit_does_not_eat_the_next() {
        for extra in [0usize, 1, 2] {
            let mut bytes = vec![b'x'; LONGEST_LINE - 1 + extra];
            bytes.extend_from_slice(b"\nnext\n");
            let out = all(&bytes);
            assert_eq!(
                out.last().map(String::as_str),
                Some("whole next"),
                "{extra}"
            );
            assert_eq!(out.len(), 2);
        }
    }
}
