//! Records as RFC 4180 text, safe to open in a spreadsheet.

use csv_core::{Terminator, WriteResult, WriterBuilder};
use seep_common::text::escape_hidden;

/// One field: text is guarded, numbers are left alone.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Field(String);

impl Field {
    /// Text. A spreadsheet runs a cell that starts with `=`, `+`, `-`, `@`, a
    /// tab or a carriage return as a formula; an apostrophe in front stops it.
    ///
    /// **Source**: OWASP, "CSV Injection" (list of first characters; from memory).
    /// What is invisible is escaped.
    pub(crate) fn text(text: &str) -> Field {
        let text = &*escape_hidden(text);
        if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
            return Field(format!("'{text}"));
        }
        Field(text.to_string())
    }

    /// A number, a time or nothing: text that is written as it is.
    pub(crate) fn plain(text: &str) -> Field {
        Field(text.to_string())
    }

    /// A number, shortest form that reads back to the same value; empty when
    /// it is not finite.
    pub(crate) fn number(value: f64) -> Field {
        if value.is_finite() {
            Field(format!("{value}"))
        } else {
            Field(String::new())
        }
    }
}

/// Text under construction.
#[derive(Debug, Default)]
pub(crate) struct Writer {
    out: Vec<u8>,
}

impl Writer {
    /// One record.
    pub(crate) fn record(&mut self, fields: impl IntoIterator<Item = Field>) {
        let mut core = WriterBuilder::new().terminator(Terminator::CRLF).build();
        for (i, field) in fields.into_iter().enumerate() {
            if i > 0 {
                self.drain(|out| core.delimiter(out));
            }
            let mut rest = field.0.as_bytes();
            while !rest.is_empty() {
                let mut buffer = [0; 512];
                let (_, read, wrote) = core.field(rest, &mut buffer);
                self.out.extend_from_slice(&buffer[..wrote]);
                rest = &rest[read..];
            }
        }
        self.drain(|out| core.terminator(out));
    }

    /// An empty line between tables.
    pub(crate) fn empty_line(&mut self) {
        self.out.extend_from_slice(b"\r\n");
    }

    /// Run a step that writes a few bytes.
    fn drain(&mut self, mut step: impl FnMut(&mut [u8]) -> (WriteResult, usize)) {
        let mut buffer = [0; 16];
        let (_, wrote) = step(&mut buffer);
        self.out.extend_from_slice(&buffer[..wrote]);
    }

    /// The finished text.
    pub(crate) fn finish(self) -> String {
        String::from_utf8_lossy(&self.out).into_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(fields: &[Field]) -> String {
        let mut writer = Writer::default();
        writer.record(fields.iter().cloned());
        writer.finish()
    }

    #[test]
    fn text_cannot_become_a_formula_and_numbers_stay_numbers() {
        let fields = [
            Field::text("=1+1"),
            Field::text("+49"),
            Field::text("-3 bar"),
            Field::text("@here"),
            Field::text("\tx"),
            Field::text("a=b"),
            Field::text("a\u{202e}b"),
            Field::number(-3.25),
            Field::number(f64::NAN),
        ];
        assert_eq!(
            written(&fields),
            "'=1+1,'+49,'-3 bar,'@here,'\tx,a=b,a\\u202eb,-3.25,\r\n"
        );
    }

    /// RFC 4180, section 2, rules 5 to 7.
    #[test]
    fn quotes_commas_and_line_ends_are_quoted() {
        let fields = [
            Field::text("a,b"),
            Field::text("say \"no\""),
            Field::text("x\r\ny"),
        ];
        assert_eq!(
            written(&fields),
            "\"a,b\",\"say \"\"no\"\"\",\"x\r\ny\"\r\n"
        );
    }

    #[test]
    fn long_fields_are_not_cut() {
        let long = "\"word\" ".repeat(1000);
        let text = written(&[Field::text(&long), Field::text("end")]);
        assert_eq!(text.matches("word").count(), 1000);
        assert!(text.ends_with(",end\r\n"));
    }
}
