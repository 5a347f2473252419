//! Text logs of CAN frames in other forms than candump's own log.
//!
//! | Form | Line |
//! |---|---|
//! | candump on the console | ` (1436509052.249713)  can0  123   [3]  11 22 33` |
//! | Vector ASC | `   0.249713 1  123             Rx   d 3 11 22 33` |
//! | PEAK TRC 1.0 to 1.3 | `     1)       249.7  Rx     0123  3  11 22 33` |
//! | PEAK TRC 2.0 and 2.1 | `      1       249.713 DT     0123 Rx 3  11 22 33` |
//!
//! [`recognise`] tells the form from the first bytes; a
//! [`LineReader`](super::candump::LineReader) made for that form reads the log.
//! Dates without a zone and times since an unknown start become Unix time by
//! [`LogTimes`]; a log whose lines have no time at all cannot be laid on an axis
//! and says so by [`LogForm::times`].
//!
//! **Source**: can-utils (`lib.c`, `snprintf_long_canframe`; `candump.c`) for the
//! console form; ASC and TRC as the reference library python-can 4.6.1 writes and
//! reads them. What that library does not write (TRC 1.1 to 1.3, error lines, the
//! fields after the data in ASC) is from memory, unverified, and marked so.

mod asc;
mod console;
mod form;
mod times;
mod trc;
mod words;

pub(super) use form::FormReader;
pub use form::{LogForm, recognise};
pub use times::{LogTimes, Times};

/// What a line that is understood holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum LineKind {
    /// A frame, stored in the frame handed in.
    Frame,
    /// Empty, a remark, or part of the head.
    Comment,
    /// Something else that happened: a status, a marker, a transport message.
    Event,
}

#[cfg(test)]
mod tests;
