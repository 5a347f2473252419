//! From frames, sentences and registers to samples of the rig's channels.
//!
//! Each decoder is built once from the rig, finds for every message which
//! channels it feeds, applies calibration and unit, drops what is outside the
//! plausible range and counts every outcome per channel. Nothing is allocated
//! while decoding.
//!
//! ```
//! use seep_common::codec::can::CanFrame;
//! use seep_common::codec::dbc::{BUILTIN_J1939_AIR, Database};
//! use seep_common::codec::decode::CanDecoder;
//! use seep_common::rig::Rig;
//! use seep_common::time::BootMs;
//!
//! let rig = Rig::parse(r#"
//! [vehicle]
//! name = "invented"
//! [[circuit]]
//! name = "front_left"
//! [[source]]
//! name = "bus"
//! kind = "socketcan"
//! [[channel]]
//! name = "front_left_kpa_gauge"
//! source = "bus"
//! signal = "ASC4.BellowPressureFrontAxleLeft"
//! "#).unwrap();
//! let database = Database::parse("builtin:j1939-air", BUILTIN_J1939_AIR).unwrap();
//! let mut decoder = CanDecoder::new(&rig, 0, &[database]).unwrap();
//!
//! let frame = CanFrame::new(0x18FE_582F, true, &[0x03, 0x14, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF]).unwrap();
//! let mut samples = Vec::new();
//! decoder.decode(&frame, BootMs(1000), &mut |sample| samples.push(sample));
//! assert!((samples[0].value - 512.3).abs() < 1e-9);
//! assert_eq!(samples[0].t_ms, BootMs(1000));
//! ```

mod can;
mod error;
mod modbus;
mod nmea;
mod outcome;
mod target;

pub use can::{CanCounts, CanDecoder, IdFilter};
pub use error::{DecodeError, DecodeProblem};
pub use modbus::{ModbusDecoder, RegisterBlock, register_number};
pub use nmea::{NmeaCounts, NmeaDecoder};
pub use outcome::Outcomes;

#[cfg(test)]
mod tests;
