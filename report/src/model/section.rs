//! Sections, tables and their cells.

use serde::{Deserialize, Serialize};

use super::{Label, Measured, Plot, Text, Unit, WallTime};

/// A part of the report with a heading.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// Stable name for links and CSV, `lower-case-with-dashes`.
    pub id: String,
    /// Heading.
    pub title: Label,
    /// What the reader should take from it, in a sentence or two.
    pub lead: Option<Text>,
    /// Tables, in order.
    pub tables: Vec<Table>,
    /// Plots, in order, after the tables.
    pub plots: Vec<Plot>,
    /// Remarks below.
    pub notes: Vec<Text>,
    /// Printed before the evidence: it is the answer itself.
    #[serde(default, skip_serializing_if = "is_false")]
    pub leads: bool,
}

// The signature is serde's.
#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_false(b: &bool) -> bool {
    !b
}

impl Section {
    /// An empty section.
    #[must_use]
    pub fn new(id: &str, title: impl Into<Label>) -> Self {
        Section {
            id: id.to_string(),
            title: title.into(),
            ..Section::default()
        }
    }
}

/// Which edge the cells of a column keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// Heading of a column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Column {
    /// Heading text.
    pub name: Label,
    /// Unit of every number in the column; none for words and mixed columns.
    pub unit: Option<Unit>,
    /// Which edge the cells keep.
    pub align: Align,
}

impl Column {
    /// A column of words.
    #[must_use]
    pub fn text(name: impl Into<Label>) -> Self {
        Column {
            name: name.into(),
            unit: None,
            align: Align::Left,
        }
    }

    /// A column of numbers in one unit.
    #[must_use]
    pub fn number(name: impl Into<Label>, unit: Unit) -> Self {
        Column {
            name: name.into(),
            unit: Some(unit),
            align: Align::Right,
        }
    }

    /// A column of durations, wall times or numbers in several units.
    #[must_use]
    pub fn mixed(name: impl Into<Label>) -> Self {
        Column {
            name: name.into(),
            unit: None,
            align: Align::Right,
        }
    }
}

/// A table. Every row has as many cells as there are columns; a renderer
/// fills a short row with missing cells rather than losing it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Table {
    /// Stable name, `lower-case-with-dashes`.
    pub id: String,
    /// What the table shows.
    pub caption: Label,
    /// Headings.
    pub columns: Vec<Column>,
    /// Rows of cells.
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    /// A table without rows.
    #[must_use]
    pub fn new(id: &str, caption: impl Into<Label>, columns: Vec<Column>) -> Self {
        Table {
            id: id.to_string(),
            caption: caption.into(),
            columns,
            rows: Vec::new(),
        }
    }

    /// Add a row.
    pub fn push(&mut self, row: Vec<Cell>) {
        debug_assert_eq!(row.len(), self.columns.len(), "table {}", self.id);
        self.rows.push(row);
    }
}

/// One cell, or one piece of evidence.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "type", rename_all = "snake_case")]
pub enum Cell {
    /// Words.
    Text {
        /// The words.
        text: Text,
    },
    /// A number with its interval and unit.
    Number(Measured),
    /// An exactly known length of time.
    Duration {
        /// Length, s.
        seconds: f64,
    },
    /// A moment.
    WallTime(WallTime),
    /// No value, and why.
    Missing {
        /// Why, as a phrase: `no height channel`.
        reason: Text,
    },
}

impl Cell {
    /// Words.
    #[must_use]
    pub fn text(text: &str) -> Self {
        Cell::Text { text: text.into() }
    }

    /// A number of things.
    #[must_use]
    pub fn count(n: u64) -> Self {
        Cell::Number(Measured::count(n))
    }

    /// A length of time, s.
    #[must_use]
    pub fn duration(seconds: f64) -> Self {
        Cell::Duration { seconds }
    }

    /// No value, and why.
    #[must_use]
    pub fn missing(reason: &str) -> Self {
        Cell::Missing {
            reason: reason.into(),
        }
    }

    /// The number, or the reason why there is none.
    #[must_use]
    pub fn number_or(value: Option<Measured>, reason: &str) -> Self {
        value.map_or_else(|| Cell::missing(reason), Cell::Number)
    }
}

impl From<Measured> for Cell {
    fn from(value: Measured) -> Self {
        Cell::Number(value)
    }
}

impl From<WallTime> for Cell {
    fn from(value: WallTime) -> Self {
        Cell::WallTime(value)
    }
}

impl From<&str> for Cell {
    fn from(value: &str) -> Self {
        Cell::text(value)
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Cell::Text { text: text.into() }
    }
}

impl From<&Label> for Cell {
    fn from(label: &Label) -> Self {
        Cell::Text { text: label.into() }
    }
}

impl From<Text> for Cell {
    fn from(text: Text) -> Self {
        Cell::Text { text }
    }
}
