//! The log format of `candump -l` and `candump -L`, byte for byte both ways.
//!
//! ```text
//! (1436509052.249713) can0 18FE58FE#03147B13C518FFFF      29 bit identifier, 8 bytes
//! (1436509052.249713) can0 123#R4                         remote frame, 4 bytes asked for
//! (1436509052.249713) can0 123##1112233                   CAN FD, flags 1, 3 bytes
//! (1436509052.249713) can0 20000040#0000000000000000      error report of the controller
//! (1436509052.249713) can0 123#1122 R                     with direction (R or T)
//! ```
//!
//! Three hexadecimal digits make an 11 bit identifier, eight a 29 bit one, or an
//! error report when bit 29 is set. Bytes may be separated by dots. Empty lines
//! and lines starting with `#` or `;` are comments, which a log that was made up
//! for a demonstration uses to say so.
//!
//! **Source**: can-utils (`lib.c`, `parse_canframe` and `sprint_canframe`;
//! `candump.c`, log output).

mod canonical;
mod hex;
mod parse;
mod print;
mod reader;

pub(super) use canonical::{STAMP_BYTES, micros, without_name};
pub(super) use hex::NIBBLE;
pub(super) use parse::ERROR_FLAG;
pub use parse::{Malformed, parse_line};
pub use print::append_line;
pub use reader::{BadLine, LineCounts, LineReader};

#[cfg(test)]
mod tests;
