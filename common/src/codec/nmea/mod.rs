//! NMEA 0183 sentences, XDR transducer measurements and TAG block times.
//!
//! ```text
//! \c:1754820000123*64\$YXXDR,P,8.013250,B,TANK,C,20.0,C,AMB*0C
//! └──── TAG block ───┘└ sentence: talker YX, formatter XDR, fields ┘
//! ```
//!
//! A checksum (exclusive or of everything between the marks) is required: the
//! line is a bare wire in a vehicle. [`Lexer`] takes bytes in any portions,
//! finds its way back after noise and counts what it throws away.
//! [`transducers`] reads the measurements, [`unix_ms`] the time of a `ZDA`
//! sentence. [`append_xdr`] writes what a small microcontroller would send.
//!
//! **Source**: NMEA 0183 (sentence form, 82 characters, XDR types and units,
//! TAG block of version 4): from memory, texts not seen; checksums agree with
//! the reference library pynmea2 1.19.0.

mod encode;
mod lexer;
mod sentence;
mod tag;
mod xdr;
mod zda;

pub use encode::{EncodeError, XdrReading, append_sentence, append_xdr};
pub use lexer::{Item, Lexer, LexerCounts, MOST_SENTENCE_BYTES};
pub use sentence::{Sentence, checksum};
pub use xdr::{Transducer, Transducers, transducers, unit_label};
pub use zda::unix_ms;

#[cfg(test)]
mod tests;
