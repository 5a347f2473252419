//! What can be wrong with a database or with a name looked up in it.

/// A database that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DbcError {
    /// More than [`super::MOST_DBC_BYTES`].
    #[error(
        "{database}: {bytes} bytes is more than the {} allowed; leave out the parts that are not recorded",
        super::MOST_DBC_BYTES
    )]
    TooLarge {
        /// Name of the database.
        database: String,
        /// Its size.
        bytes: usize,
    },
    /// Not the DBC language.
    #[error(
        "{database}: line {line}, column {column}: not understood here: `{found}`; correct or remove this line"
    )]
    Syntax {
        /// Name of the database.
        database: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// Start of the text there.
        found: String,
    },
    /// A number that does not fit, or another value the parser refuses.
    #[error("{database}: line {line}: {problem}; correct the value")]
    Value {
        /// Name of the database.
        database: String,
        /// Line, from 1; the first one when it cannot be told.
        line: usize,
        /// What the parser says.
        problem: String,
    },
    /// Nothing to decode.
    #[error(
        "{database}: line 1: no message (`BO_`) in it; give a DBC file with the messages to be recorded"
    )]
    NoMessages {
        /// Name of the database.
        database: String,
    },
}

/// A signal that was asked for and cannot be had.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FindError {
    /// Not of the form `MESSAGE.SIGNAL`.
    #[error("`{path}` is not a signal path; write MESSAGE.SIGNAL, such as `{example}`")]
    NotAPath {
        /// As asked.
        path: String,
        /// A path that exists.
        example: String,
    },
    /// No such message or signal.
    #[error("{database} has no signal `{path}`; {remedy}")]
    Unknown {
        /// Name of the database.
        database: String,
        /// As asked.
        path: String,
        /// The nearest name, or what there is.
        remedy: String,
    },
    /// It is there but cannot be decoded.
    #[error("{database}: line {line}: `{path}` cannot be decoded: {problem}")]
    Unusable {
        /// Name of the database.
        database: String,
        /// Line of the signal, from 1.
        line: usize,
        /// As asked.
        path: String,
        /// Why not.
        problem: SignalProblem,
    },
}

/// Why a signal of a database cannot be decoded.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SignalProblem {
    /// Length 0 or over 64, or a start beyond any frame.
    #[error("{length} bits from bit {start_bit} is no place in a frame; a signal has 1 to 64 bits")]
    Place {
        /// Start bit as written.
        start_bit: u64,
        /// Length as written.
        length: u64,
    },
    /// It reaches beyond the message.
    #[error("it needs {needed} bytes and the message has {has}; correct the length of one of them")]
    BeyondMessage {
        /// Bytes needed.
        needed: usize,
        /// Length of the message.
        has: u64,
    },
    /// A float must have 32 or 64 bits.
    #[error("a floating-point value of {length} bits does not exist; use 32 or 64")]
    FloatLength {
        /// Length as written.
        length: u64,
    },
    /// Scaled to nothing.
    #[error("factor {factor} and offset {offset} give no values; correct them")]
    Scale {
        /// Factor as read.
        factor: f64,
        /// Offset as read.
        offset: f64,
    },
    /// The multiplexer cannot be told.
    #[error("it is multiplexed, and {what}")]
    Multiplexer {
        /// What is missing.
        what: String,
    },
    /// Longer than one frame.
    #[error(
        "its message has {bytes} bytes and comes in several frames (transport protocol), which is not decoded"
    )]
    SeveralFrames {
        /// Length of the message.
        bytes: u64,
    },
    /// The identifier is no identifier.
    #[error(
        "its message number {number} is neither an 11 bit identifier nor a 29 bit one with bit 31 set"
    )]
    Identifier {
        /// As written.
        number: u64,
    },
}

/// Something odd in a database that does not stop its use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DbcNote {
    /// Line, from 1.
    pub line: usize,
    /// What was found, and what it means for decoding.
    pub what: String,
}

impl std::fmt::Display for DbcNote {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {}: {}", self.line, self.what)
    }
}
