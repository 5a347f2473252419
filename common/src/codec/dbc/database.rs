//! A database: parse it, look things up in it.

use super::MOST_DBC_BYTES;
use super::build;
use super::error::{DbcError, DbcNote, FindError};
use super::message::Message;
use super::signal::Signal;
use super::text;

/// A parsed DBC database.
#[derive(Debug, Clone, PartialEq)]
pub struct Database {
    name: String,
    messages: Vec<Message>,
    notes: Vec<DbcNote>,
}

/// A signal with the message it is in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FoundSignal<'a> {
    /// Its message.
    pub message: &'a Message,
    /// The signal.
    pub signal: &'a Signal,
}

impl Database {
    /// Parse the text of a DBC file. `name` is used in messages only.
    ///
    /// Parts that decoding does not need (comments, value tables, nodes) may be
    /// odd: they are then left out and a note says so. Signals that cannot be
    /// decoded are errors only when asked for.
    ///
    /// # Errors
    /// [`DbcError`] with line and remedy.
    ///
    /// ```
    /// use seep_common::codec::dbc::Database;
    /// let text = "BO_ 291 BOX: 8 Node\n SG_ Tank : 0|16@1+ (0.1,0) [0|0] \"kPa\" Node\n";
    /// let db = Database::parse("box.dbc", text).unwrap();
    /// assert_eq!(db.find("BOX.Tank").unwrap().message.id, 0x123);
    /// let error = db.find("BOX.Tnak").unwrap_err();
    /// assert!(error.to_string().contains("did you mean `BOX.Tank`?"));
    /// let error = Database::parse("box.dbc", "BO_ 291 BOX: eight Node\n").unwrap_err();
    /// assert!(error.to_string().starts_with("box.dbc: line 1, column 14"));
    /// ```
    pub fn parse(name: &str, text: &str) -> Result<Self, DbcError> {
        check_size(name, text.len())?;
        let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
        let (parsed, mut notes) = parse_or_reduce(name, text)?;
        if parsed.messages.is_empty() {
            return Err(DbcError::NoMessages {
                database: name.to_string(),
            });
        }
        let lines = text::message_lines(text);
        let messages = build::messages(&parsed, &lines, &mut notes);
        Ok(Database {
            name: name.to_string(),
            messages,
            notes,
        })
    }

    /// Parse the bytes of a DBC file, UTF-8 or the Western European encoding
    /// that most DBC editors write.
    ///
    /// # Errors
    /// As [`Database::parse`].
    pub fn parse_bytes(name: &str, bytes: &[u8]) -> Result<Self, DbcError> {
        check_size(name, bytes.len())?;
        Self::parse(name, &text::decode(bytes))
    }

    /// Name given to [`Database::parse`].
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Messages in the order of the file.
    #[must_use]
    pub fn messages(&self) -> &[Message] {
        &self.messages
    }

    /// What is odd in the database without stopping its use.
    #[must_use]
    pub fn notes(&self) -> &[DbcNote] {
        &self.notes
    }

    /// Look a signal up by `MESSAGE.SIGNAL`.
    ///
    /// # Errors
    /// [`FindError`] with the nearest name, or why the signal cannot be decoded.
    pub fn find(&self, path: &str) -> Result<FoundSignal<'_>, FindError> {
        let Some((message_name, signal_name)) = path.split_once('.') else {
            return Err(FindError::NotAPath {
                path: path.to_string(),
                example: self.paths().next().unwrap_or_default(),
            });
        };
        let named = || self.messages.iter().filter(|m| m.name == message_name);
        for message in named() {
            if let Some(signal) = message.signals.iter().find(|s| s.name == signal_name) {
                return Ok(FoundSignal { message, signal });
            }
        }
        for message in named() {
            if let Some(bad) = message.unusable.iter().find(|s| s.name == signal_name) {
                return Err(FindError::Unusable {
                    database: self.name.clone(),
                    line: bad.line,
                    path: path.to_string(),
                    problem: bad.problem.clone(),
                });
            }
        }
        Err(FindError::Unknown {
            database: self.name.clone(),
            path: path.to_string(),
            remedy: self.remedy(path),
        })
    }

    /// Every path, in the order of the file.
    pub fn paths(&self) -> impl Iterator<Item = String> + '_ {
        self.messages.iter().flat_map(|message| {
            message
                .signals
                .iter()
                .map(|signal| format!("{}.{}", message.name, signal.name))
        })
    }

    fn remedy(&self, path: &str) -> String {
        let wanted = path.to_lowercase();
        let nearest = self
            .paths()
            .map(|known| {
                let distance = strsim::damerau_levenshtein(&wanted, &known.to_lowercase());
                (distance, known)
            })
            .min();
        match nearest {
            Some((distance, known)) if distance <= 3.max(path.len() / 3) => {
                format!("did you mean `{known}`?")
            }
            _ => "no name in it is near; list the signals of the database".to_string(),
        }
    }
}

fn check_size(name: &str, bytes: usize) -> Result<(), DbcError> {
    if bytes > MOST_DBC_BYTES {
        return Err(DbcError::TooLarge {
            database: name.to_string(),
            bytes,
        });
    }
    Ok(())
}

/// The whole text, or without the parts that are not needed when they are odd.
fn parse_or_reduce(name: &str, text: &str) -> Result<(can_dbc::Dbc, Vec<DbcNote>), DbcError> {
    // The grammar wants a line end after the last line.
    let ended = format!("{text}\n");
    let error = match can_dbc::Dbc::try_from(ended.as_str()) {
        Ok(parsed) => return Ok((parsed, Vec::new())),
        Err(error) => build::parse_error(name, &ended, &error),
    };
    let Ok(parsed) = can_dbc::Dbc::try_from(text::reduced(text).as_str()) else {
        return Err(error);
    };
    let line = match error {
        DbcError::Syntax { line, .. } => line,
        _ => 0,
    };
    let what = "not understood here; comments, tables and nodes of the database are left out, \
                messages and signals are used";
    let note = DbcNote {
        line,
        what: what.to_string(),
    };
    Ok((parsed, vec![note]))
}
