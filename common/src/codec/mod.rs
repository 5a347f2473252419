//! Codecs: bytes to values and back. No I/O, no clock, no threads.
//!
//! | Module | Reads | Writes |
//! |---|---|---|
//! | [`candump`] | candump log lines | the same lines |
//! | [`canlog`] | candump on the console, Vector ASC, PEAK TRC | |
//! | [`dbc`] | CAN payloads, by a DBC database | |
//! | [`j1939`] | 29 bit identifiers, special values | identifiers |
//! | [`nmea2000`] | special values | |
//! | [`nmea`] | NMEA 0183 sentences, XDR measurements, TAG block times | the same sentences |
//!
//! [`decode`] goes on from there to samples of the rig's channels.
//!
//! Bad input is a value here, not an error: a reader counts it, says where it
//! was and goes on with the next line or sentence.

mod calendar;
pub mod can;
pub mod candump;
pub mod canlog;
pub mod dbc;
pub mod decode;
pub mod j1939;
pub mod nmea;
pub mod nmea2000;
