//! The text of a database before it is parsed: encoding, line numbers of
//! messages and signals, and a reduced form for files with odd parts.

/// Lines of a message and of its signals, in the order of the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct MessageLines {
    /// Line of `BO_`, from 1.
    pub(super) line: usize,
    /// The message number as written.
    pub(super) number: Option<u64>,
    /// Line of each `SG_`.
    pub(super) signals: Vec<usize>,
}

/// UTF-8 if it is, else the Western European encoding most DBC editors write.
///
/// The 27 characters in which Windows-1252 differs from ISO 8859-1 stand only in
/// comments of real files and are not told apart.
pub(super) fn decode(bytes: &[u8]) -> String {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_string(),
        Err(_) => bytes.iter().map(|&byte| char::from(byte)).collect(),
    }
}

/// Find the lines of messages and signals.
pub(super) fn message_lines(text: &str) -> Vec<MessageLines> {
    let mut found: Vec<MessageLines> = Vec::new();
    for (line, content, quoted) in lines(text) {
        if quoted {
            continue;
        }
        let mut words = content.split_ascii_whitespace();
        match words.next() {
            Some("BO_") => found.push(MessageLines {
                line,
                number: words.next().and_then(|word| word.parse().ok()),
                signals: Vec::new(),
            }),
            Some("SG_") => {
                if let Some(message) = found.last_mut() {
                    message.signals.push(line);
                }
            }
            _ => {}
        }
    }
    found
}

/// The same text with every line emptied that decoding does not need: comments,
/// value tables, nodes, environment variables. Line numbers stay.
pub(super) fn reduced(text: &str) -> String {
    const NEEDED: [&str; 7] = [
        "BO_",
        "SG_",
        "SIG_VALTYPE_",
        "SG_MUL_VAL_",
        "BA_DEF_",
        "BA_DEF_DEF_",
        "BA_",
    ];
    let mut out = String::with_capacity(text.len() + 1);
    let mut keep = false;
    for (_, content, quoted) in lines(text) {
        if !quoted {
            let word = content.split_ascii_whitespace().next().unwrap_or_default();
            keep = NEEDED.contains(&word);
        }
        if keep {
            out.push_str(content);
        }
        out.push('\n');
    }
    out
}

/// Each line with its number and whether it starts inside a quoted string.
fn lines(text: &str) -> impl Iterator<Item = (usize, &str, bool)> {
    let mut quoted = false;
    text.lines().enumerate().map(move |(index, content)| {
        let starts_quoted = quoted;
        let mut escaped = false;
        for byte in content.bytes() {
            quoted ^= byte == b'"' && !(quoted && escaped);
            escaped = byte == b'\\';
        }
        (index + 1, content, starts_quoted)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "VERSION \"\"\nBO_ 5 A: 8 X\n SG_ a : 0|8@1+ (1,0) [0|0] \"\" X\n\n\
                        CM_ \"BO_ in a comment\nBO_ 6 not a message \\\" \";\nBO_ 7 B: 8 X\n";

    #[test]
    fn lines_inside_quotes_are_not_messages() {
        let found = message_lines(TEXT);
        let summary: Vec<_> = found.iter().map(|m| (m.line, m.number)).collect();
        assert_eq!(summary, [(2, Some(5)), (7, Some(7))]);
        assert_eq!(found[0].signals, [3]);
    }

    #[test]
    fn the_reduced_text_keeps_its_line_numbers() {
        let text = reduced(TEXT);
        let kept: Vec<&str> = text.lines().collect();
        assert_eq!(kept.len(), 7);
        assert!(kept[1].starts_with("BO_ 5") && kept[6].starts_with("BO_ 7"));
        assert!(kept[4].is_empty() && kept[5].is_empty());
    }

    #[test]
    fn both_encodings_give_the_degree_sign() {
        assert_eq!(decode("\u{FEFF}°C".as_bytes()), "°C");
        assert_eq!(decode(b"\xB0C"), "°C");
    }
}
