//! Text of a report: words and quantities, before the reader's units are known.

use super::{Measured, Unit, WallTime};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Part of a [`Text`].
#[derive(Debug, Clone, PartialEq)]
pub enum Piece {
    /// Words as written, or as they stood in a log or a rig: not safe to print.
    Words(String),
    /// A number with its interval, in the stored unit.
    Quantity(Measured),
    /// A change with its sign and one decimal, in the stored unit, its unit not named.
    Change(f64, Unit),
    /// The symbol of a unit.
    Symbol(Unit),
    /// A day in the report's zone: `12 March 2026`.
    Day(WallTime),
}

/// Words and quantities in the order of reading.
///
/// It has no [`std::fmt::Display`]: a renderer alone makes characters of it. There
/// the quantities get the reader's units, and what could mislead a screen (control
/// and hidden characters out of a log or a rig) is taken out.
///
/// ```
/// use seep_report::model::{Measured, Piece, Text, Unit};
/// use seep_report::text;
/// let swing = Measured::exact(12.0, Unit::KelvinDifference);
/// let text = text!["temperature swung ", swing, "."];
/// assert_eq!(text.pieces()[1], Piece::Quantity(swing));
/// assert_eq!(text!["a", "b"], Text::from("ab"));
/// ```
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(from = "String")]
pub struct Text {
    pieces: Vec<Piece>,
}

/// Makes a [`Text`] of words, quantities and other texts, in this order.
#[macro_export]
macro_rules! text {
    ($($piece:expr),* $(,)?) => {{
        let mut text = $crate::model::Text::default();
        $(text.push($piece);)*
        text
    }};
}

impl Text {
    /// Appends words, a quantity or another text.
    pub fn push(&mut self, more: impl Into<Text>) {
        for piece in more.into().pieces {
            match (self.pieces.last_mut(), piece) {
                (_, Piece::Words(words)) if words.is_empty() => {}
                (Some(Piece::Words(last)), Piece::Words(words)) => last.push_str(&words),
                (_, piece) => self.pieces.push(piece),
            }
        }
    }

    /// Returns the pieces in order; words next to words are one piece.
    #[must_use]
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Returns whether there is nothing to read.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.pieces.is_empty()
    }

    /// Returns the texts with `between` between each two of them.
    #[must_use]
    pub fn joined(texts: impl IntoIterator<Item = Text>, between: &str) -> Self {
        let mut all = Text::default();
        for (i, text) in texts.into_iter().enumerate() {
            if i > 0 {
                all.push(between);
            }
            all.push(text);
        }
        all
    }

    /// Returns the text with its first letter in upper case.
    #[must_use]
    pub fn capitalised(mut self) -> Self {
        if let Some(Piece::Words(words)) = self.pieces.first_mut() {
            let mut chars = words.chars();
            *words = (chars.next())
                .map(|c| c.to_uppercase().chain(chars).collect())
                .unwrap_or_default();
        }
        self
    }
}

impl From<String> for Text {
    fn from(words: String) -> Self {
        let pieces = if words.is_empty() {
            Vec::new()
        } else {
            vec![Piece::Words(words)]
        };
        Text { pieces }
    }
}

impl From<&str> for Text {
    fn from(words: &str) -> Self {
        words.to_string().into()
    }
}

impl From<&String> for Text {
    fn from(words: &String) -> Self {
        words.clone().into()
    }
}

impl From<Cow<'_, str>> for Text {
    fn from(words: Cow<'_, str>) -> Self {
        words.into_owned().into()
    }
}

impl From<Measured> for Text {
    fn from(quantity: Measured) -> Self {
        Text {
            pieces: vec![Piece::Quantity(quantity)],
        }
    }
}

impl From<Piece> for Text {
    fn from(piece: Piece) -> Self {
        match piece {
            Piece::Words(words) => words.into(),
            other => Text {
                pieces: vec![other],
            },
        }
    }
}

impl From<&Text> for Text {
    fn from(text: &Text) -> Self {
        text.clone()
    }
}

/// Words for a heading, a caption or a mark, as written or as they stood in a log or a
/// rig: a name that somebody chose.
///
/// It has no [`std::fmt::Display`], as [`Text`] has none: only a renderer makes characters
/// of it, and takes out what could mislead a screen.
///
/// ```
/// use seep_report::model::Label;
/// assert_eq!(Label::from("Rear left"), Label::from("Rear left".to_string()));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Label(String);

impl Label {
    /// Returns whether there is nothing to read.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Returns the words as they came: not safe to print.
    pub(crate) fn as_written(&self) -> &str {
        &self.0
    }
}

impl From<String> for Label {
    fn from(words: String) -> Self {
        Label(words)
    }
}

impl From<&str> for Label {
    fn from(words: &str) -> Self {
        Label(words.to_string())
    }
}

impl From<&String> for Label {
    fn from(words: &String) -> Self {
        Label(words.clone())
    }
}

impl From<&Label> for Label {
    fn from(label: &Label) -> Self {
        label.clone()
    }
}

impl From<Label> for Text {
    fn from(label: Label) -> Self {
        label.0.into()
    }
}

impl From<&Label> for Text {
    fn from(label: &Label) -> Self {
        label.0.clone().into()
    }
}
