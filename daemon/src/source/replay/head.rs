//! The first bytes of an input, looked at without losing them.

use std::io::{self, BufReader, Chain, Cursor, Read};

/// Enough to tell any kind apart, bytes.
const HEAD_BYTES: usize = 16 * 1024;

/// Lines needed to tell a kind, comments and empty ones apart.
const TELLING_LINES: usize = 5;

/// An input whose first bytes have been looked at.
pub(super) type WholeInput = BufReader<Chain<Cursor<Vec<u8>>, Box<dyn Read + Send>>>;

/// The first bytes of an input.
pub(super) struct Head {
    /// The bytes; empty for an empty input.
    pub bytes: Vec<u8>,
    rest: Box<dyn Read + Send>,
}

impl Head {
    /// Read the head. A pipe that hands out little at a time is asked only
    /// until there are some lines to look at.
    pub(super) fn read(mut rest: Box<dyn Read + Send>) -> io::Result<Self> {
        let mut bytes = vec![0; HEAD_BYTES];
        let mut filled = 0;
        while filled < bytes.len() {
            let n = match rest.read(&mut bytes[filled..]) {
                Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
                other => other?,
            };
            filled += n;
            let lines = bytes[..filled].split_inclusive(|&b| b == b'\n');
            let telling = lines.filter(|l| l.ends_with(b"\n") && !is_comment(l));
            if n == 0 || telling.count() >= TELLING_LINES {
                break;
            }
        }
        bytes.truncate(filled);
        Ok(Head { bytes, rest })
    }

    /// The whole input from its first byte.
    pub(super) fn into_input(self) -> WholeInput {
        BufReader::with_capacity(128 * 1024, Cursor::new(self.bytes).chain(self.rest))
    }
}

/// Empty, or a remark such as a made-up log carries to say so.
pub(super) fn is_comment(line: &[u8]) -> bool {
    matches!(line.trim_ascii(), [] | [b'#' | b';', ..])
}
