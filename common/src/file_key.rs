//! How a key of a file that people write is described, and its manual page.

/// One key of a rig or plan file, for its reference.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FileKey {
    /// Table it stands in: `[vehicle]`, `[[circuit]]`, or empty at the top.
    pub table: &'static str,
    /// The key.
    pub key: &'static str,
    /// Unit or kind of value.
    pub unit: &'static str,
    /// What holds when it is left out; `needed` where it may not be.
    pub default: &'static str,
    /// What it means, as a sentence.
    pub meaning: &'static str,
    /// A line that can be pasted.
    pub example: &'static str,
}

impl FileKey {
    /// A key from its six parts, in the order of the fields.
    #[must_use]
    pub const fn new(
        table: &'static str,
        key: &'static str,
        unit: &'static str,
        default: &'static str,
        meaning: &'static str,
        example: &'static str,
    ) -> Self {
        FileKey {
            table,
            key,
            unit,
            default,
            meaning,
            example,
        }
    }
}

/// A manual page of section 5 (roff, macro package man): tables and keys in the
/// order given, `about` as its first paragraphs.
#[must_use]
pub fn manual_page(name: &str, summary: &str, about: &[&str], keys: &[FileKey]) -> String {
    let mut page = format!(
        ".TH {} 5\n.SH NAME\n{} \\- {}\n.SH DESCRIPTION\n",
        name.to_uppercase(),
        text(name),
        text(summary)
    );
    for paragraph in about {
        page += &format!(".PP\n{}\n", text(paragraph));
    }
    let mut table = None;
    for key in keys {
        if table != Some(key.table) {
            table = Some(key.table);
            let heading = if key.table.is_empty() {
                "FILE"
            } else {
                key.table
            };
            page += &format!(".SH {}\n", text(heading));
        }
        page += &format!(
            ".TP\n\\fB{}\\fR (\\fI{}\\fR; default: {})\n{}\n.br\nExample: {}\n",
            text(key.key),
            text(key.unit),
            text(key.default),
            text(key.meaning),
            text(key.example)
        );
    }
    page
}

/// Escapes what roff would take for a command of its own.
fn text(plain: &str) -> String {
    let escaped = plain.replace('\\', "\\e").replace('-', "\\-");
    match escaped.starts_with(['.', '\'']) {
        true => format!("\\&{escaped}"),
        false => escaped,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_has_headings_keys_and_no_stray_commands() {
        let key = FileKey::new(
            "[a]",
            "b_c",
            "mm",
            "none",
            ".5 is a back\\slash",
            "b_c = -1",
        );
        let page = manual_page("seep-x", "a file", &["What it is."], &[key]);
        assert!(page.starts_with(".TH SEEP-X 5\n.SH NAME\nseep\\-x \\- a file\n"));
        assert!(page.contains(".SH [a]\n.TP\n\\fBb_c\\fR (\\fImm\\fR; default: none)\n"));
        assert!(page.contains("\n\\&.5 is a back\\eslash\n"));
        assert!(page.contains("Example: b_c = \\-1\n"));
    }
}
