//! A page of text that is built line by line and never grows too wide.

use std::fmt::Write as _;

use anstyle::{AnsiColor, Style};

use crate::model::Severity;
use crate::render::signs::NO_BREAK;

/// Narrowest page that is laid out; below, lines run over.
const NARROWEST: usize = 40;

/// Headings.
pub(super) const BOLD: Style = Style::new().bold();

/// Remarks and rules.
pub(super) const DIM: Style = Style::new().dimmed();

/// Things that can hurt.
pub(super) const CAUTION: Style = AnsiColor::Yellow.on_default().bold();

/// Colour of a verdict. The word stands beside it, so nothing is lost
/// without colour.
pub(super) fn severity_style(severity: Severity) -> Style {
    match severity {
        Severity::Fine => AnsiColor::Green.on_default().bold(),
        Severity::Watch => AnsiColor::Yellow.on_default().bold(),
        Severity::Act => AnsiColor::Red.on_default().bold(),
        Severity::Unknown => BOLD,
    }
}

/// Text under construction.
#[derive(Debug)]
pub(super) struct Page {
    out: String,
    /// Columns available.
    pub(super) width: usize,
}

impl Page {
    /// An empty page of `width` columns.
    pub(super) fn new(width: usize) -> Self {
        Page {
            out: String::new(),
            width: width.max(NARROWEST),
        }
    }

    /// An empty line, never two in a row and never the first.
    pub(super) fn blank(&mut self) {
        if !self.out.is_empty() && !self.out.ends_with("\n\n") {
            self.out.push('\n');
        }
    }

    /// A heading after an empty line.
    pub(super) fn heading(&mut self, text: &str) {
        self.blank();
        self.paragraph("", "", text, BOLD);
    }

    /// Wrapped text: `first` before the first line, `rest` before the others.
    pub(super) fn paragraph(&mut self, first: &str, rest: &str, text: &str, style: Style) {
        let options = textwrap::Options::new(self.width)
            .initial_indent(first)
            .subsequent_indent(rest)
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .word_splitter(textwrap::WordSplitter::NoHyphenation);
        for line in textwrap::wrap(text, options) {
            self.line(&line, style);
        }
    }

    /// One line as it is. Spaces that must not break become plain ones.
    pub(super) fn line(&mut self, text: &str, style: Style) {
        let text = text.replace(NO_BREAK, " ");
        let text = text.trim_end();
        // Writing to a string cannot fail.
        let _ = if style == Style::new() {
            writeln!(self.out, "{text}")
        } else {
            writeln!(self.out, "{style}{text}{style:#}")
        };
    }

    /// The text as it is, an empty line at its end kept.
    pub(super) fn finish_with_blank(self) -> String {
        self.out
    }

    /// The finished text.
    pub(super) fn finish(self) -> String {
        let mut out = self.out;
        while out.ends_with("\n\n") {
            out.pop();
        }
        out
    }
}
