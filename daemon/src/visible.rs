//! The edge to people: whatever a name holds, nothing invisible is shown.

use seep_common::text::escape_hidden;
use std::io::{self, Write};

/// Passes lines on with every invisible character escaped.
///
/// Holds an unfinished line back until it ends, is flushed, or this is dropped,
/// so that no character is cut in two.
pub(crate) struct Visible<W: Write> {
    to: W,
    line: Vec<u8>,
}

impl<W: Write> Visible<W> {
    pub(crate) fn new(to: W) -> Self {
        Visible {
            to,
            line: Vec::new(),
        }
    }

    fn pass_on(&mut self, bytes: usize) -> io::Result<()> {
        let rest = self.line.split_off(bytes);
        let whole = std::mem::replace(&mut self.line, rest);
        let text = String::from_utf8_lossy(&whole);
        self.to.write_all(escape_hidden(&text).as_bytes())
    }
}

impl<W: Write> Write for Visible<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.line.extend_from_slice(bytes);
        if let Some(end) = self.line.iter().rposition(|&b| b == b'\n') {
            self.pass_on(end + 1)?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.pass_on(self.line.len())?;
        self.to.flush()
    }
}

impl<W: Write> Drop for Visible<W> {
    fn drop(&mut self) {
        // A reader that has gone wants no more.
        let _ = self.flush();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hidden_mark_is_shown_however_it_is_written() {
        let text = "rig \u{202e}gpj.exe\u{202c}: über\nrest \u{200b}";
        let shown = "rig \\u202egpj.exe\\u202c: über\nrest \\u200b";
        for portion in [1, 2, 5, 100] {
            let mut out = Vec::new();
            let mut visible = Visible::new(&mut out);
            for bytes in text.as_bytes().chunks(portion) {
                visible.write_all(bytes).expect("memory");
            }
            drop(visible);
            assert_eq!(String::from_utf8_lossy(&out), shown, "{portion}");
        }
    }
}
