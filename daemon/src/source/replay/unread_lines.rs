//! The message about lines of a CAN log that could not be read.

use seep_common::codec::candump::LineReader;

/// Returns how many lines could not be read, and where and why the first could
/// not; `None` where all could.
pub(super) fn unread_lines(lines: &LineReader) -> Option<String> {
    let first = lines.bad_lines().first()?;
    let count = lines.counts().malformed;
    Some(format!(
        "{count} lines of the log could not be read; the first, line {}: {}",
        first.line, first.what
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_bad_line_is_named_with_its_place_and_its_fault() {
        let mut lines = LineReader::new();
        lines.push(b"(1.0) can0 123#11\n", &mut |_| {});
        assert_eq!(unread_lines(&lines), None);
        lines.push(b"(2.0) can0 123#1\nnoise\n", &mut |_| {});
        let text = unread_lines(&lines).unwrap_or_default();
        assert!(text.starts_with("2 lines"), "{text}");
        assert!(text.contains("line 2: data are not bytes"), "{text}");
    }
}
