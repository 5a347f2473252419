//! What a sensor board sends and when: no operating system, no dynamic memory,
//! no floating point.
//!
//! [`Board`] takes samples and returns sentences of NMEA 0183 (XDR, TXT); how
//! samples are taken and bytes are sent is the caller's.
#![no_std]
#![forbid(unsafe_code)]

mod board;
mod mean;
mod pace;
mod sentence;

pub use board::{Board, Names, Scale};
pub use mean::Mean;
pub use pace::{FAST_FOR_MS, Pace, STEP_MS, STEPS_AT_REST};
pub use sentence::{LONGEST_SENTENCE, Sentences};
