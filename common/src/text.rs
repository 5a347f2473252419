//! Text of strangers made safe to show: names and messages come from rigs, logs,
//! file names and devices.

use std::borrow::Cow;
use std::fmt::Write;

/// Whether a character is invisible or changes the order or place of others, so
/// that text reads as something it is not.
///
/// **Source**: Unicode Standard, characters of general category Cf (format), Zl,
/// Zp, and the letters that are drawn as nothing (Hangul fillers); Unicode
/// Technical Report 36 describes the attacks. The list is from memory.
///
/// ```
/// use seep_common::text::is_hidden;
/// assert!(is_hidden('\u{202e}'), "reads from right to left");
/// assert!(!is_hidden('ü') && !is_hidden(' ') && !is_hidden('א'));
/// ```
#[must_use]
pub fn is_hidden(c: char) -> bool {
    matches!(
        c,
        '\u{ad}'
            | '\u{34f}'
            | '\u{600}'..='\u{605}'
            | '\u{61c}'
            | '\u{6dd}'
            | '\u{70f}'
            | '\u{115f}'
            | '\u{1160}'
            | '\u{17b4}'
            | '\u{17b5}'
            | '\u{180e}'
            | '\u{200b}'..='\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{3164}'
            | '\u{feff}'
            | '\u{ffa0}'
            | '\u{fff9}'..='\u{fffb}'
            | '\u{1d173}'..='\u{1d17a}'
            | '\u{e0000}'..='\u{e007f}'
    )
}

/// Writes hidden characters, DEL and the C1 controls as `\uXXXX` (UTF-16, as in
/// JSON), and leaves everything else alone.
///
/// The result of valid JSON is the same value: such characters stand only inside
/// its strings.
///
/// ```
/// use seep_common::text::escape_hidden;
/// assert_eq!(escape_hidden("front left"), "front left");
/// assert_eq!(escape_hidden("a\u{202e}b\u{e0041}"), "a\\u202eb\\udb40\\udc41");
/// ```
#[must_use]
pub fn escape_hidden(text: &str) -> Cow<'_, str> {
    let escaped = |c: char| is_hidden(c) || matches!(c, '\u{7f}'..='\u{9f}');
    // Only DEL and first bytes of other characters are looked at: most of a report is
    // plain ASCII.
    let starts = |b: u8| b >= 0xc0 || b == 0x7f;
    let mut others = (text.bytes().enumerate()).filter(|(_, b)| starts(*b));
    if !others.any(|(at, _)| text[at..].starts_with(escaped)) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if escaped(c) {
            for unit in c.encode_utf16(&mut [0; 2]) {
                let _ = write!(out, "\\u{unit:04x}");
            }
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_mark_that_turns_text_round_is_hidden() {
        // Unicode Standard Annex 9, section 2: the explicit directional marks.
        let marks = [
            '\u{61c}', '\u{200e}', '\u{200f}', '\u{202a}', '\u{202b}', '\u{202c}', '\u{202d}',
            '\u{202e}', '\u{2066}', '\u{2067}', '\u{2068}', '\u{2069}',
        ];
        assert!(marks.into_iter().all(is_hidden));
    }

    #[test]
    fn nothing_hidden_is_left_and_plain_text_is_untouched() {
        for code in 0..=0x10_ffff {
            let Some(c) = char::from_u32(code) else {
                continue;
            };
            let text = c.to_string();
            let shown = escape_hidden(&text);
            assert!(!shown.chars().any(is_hidden), "{code:x}");
            assert_eq!(
                shown == text,
                !is_hidden(c) && !(0x7f..=0x9f).contains(&code)
            );
        }
    }
}
