//! A source of the draft with its channels, as text.

use std::fmt::Write as _;

/// A source with its channels, as text, and the names it uses.
pub(super) struct Drafted {
    pub source: String,
    pub channels: Vec<DraftedChannel>,
    /// Remarks that belong to the source.
    pub remarks: Vec<String>,
}

/// One channel.
pub(super) struct DraftedChannel {
    pub name: String,
    /// Lines after the name and the source.
    pub keys: Vec<String>,
    /// Why it is believed.
    pub reason: String,
    /// Written as a comment: something is not known.
    pub blank: bool,
}

/// A text as TOML writes it.
pub(super) fn quoted(words: &str) -> String {
    let mut out = String::from("\"");
    for c in words.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => drop(write!(out, "\\u{:04X}", u32::from(c))),
            c => out.push(c),
        }
    }
    out + "\""
}
