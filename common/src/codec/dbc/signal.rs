//! One signal and what a payload says about it.

use super::layout::Layout;
use crate::codec::j1939::{self, SpecialValue};
use crate::codec::nmea2000;
use std::sync::Arc;

/// How the bits make a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NumberKind {
    /// Unsigned integer.
    Unsigned,
    /// Two's complement integer.
    Signed,
    /// IEEE 754, 32 bits.
    Float32,
    /// IEEE 754, 64 bits.
    Float64,
}

/// The number before scaling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Raw {
    /// Unsigned integer.
    Unsigned(u64),
    /// Signed integer.
    Signed(i64),
    /// Floating point.
    Float(f64),
}

/// What a payload says about a signal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Extracted {
    /// A value in the signal's unit.
    Value(f64),
    /// The frame is shorter than the signal needs.
    TooShort,
    /// This frame carries another branch of the multiplex.
    OtherMultiplex,
    /// A raw value that is no reading (J1939 and NMEA 2000 only).
    Special(SpecialValue),
    /// A floating-point signal that is infinite or not a number.
    NotFinite,
}

/// The signal is present only when another one has a value in these ranges.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Gate {
    pub(super) layout: Layout,
    pub(super) number: NumberKind,
    /// Shared by the signals of a branch.
    pub(super) ranges: Arc<[(u64, u64)]>,
}

/// A signal of a message, ready to be fetched from payloads.
#[derive(Debug, Clone, PartialEq)]
pub struct Signal {
    /// Name in the database.
    pub name: String,
    /// Unit as written in the database.
    pub unit: String,
    /// Line in the database, from 1 (0 when not known).
    pub line: usize,
    /// Place of its bits.
    pub layout: Layout,
    /// How the bits make a number.
    pub number: NumberKind,
    /// Value per count.
    pub scale: f64,
    /// Value at count 0.
    pub offset: f64,
    pub(super) gates: Vec<Gate>,
    pub(super) special_values: SpecialValues,
}

/// Whose raw values are no readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SpecialValues {
    /// Every raw value is a reading.
    None,
    /// SAE J1939; numbers with a sign are not part of it.
    J1939,
    /// NMEA 2000.
    Nmea2000,
}

impl Signal {
    /// The value of this signal in a payload: `raw · scale + offset`.
    ///
    /// ```
    /// use seep_common::codec::dbc::{BUILTIN_J1939_AIR, Database, Extracted};
    /// let db = Database::parse("builtin:j1939-air", BUILTIN_J1939_AIR).unwrap();
    /// let found = db.find("ASC4.BellowPressureFrontAxleLeft").unwrap();
    /// let data = [0x03, 0x14, 0x7B, 0x13, 0xC5, 0x18, 0xFF, 0xFF];
    /// assert_eq!(found.signal.unit, "kPa");
    /// match found.signal.extract(&data) {
    ///     Extracted::Value(kpa_gauge) => assert!((kpa_gauge - 512.3).abs() < 1e-9),
    ///     other => panic!("{other:?}"),
    /// }
    /// assert_eq!(found.signal.extract(&data[..1]), Extracted::TooShort);
    /// ```
    #[must_use]
    #[inline]
    pub fn extract(&self, data: &[u8]) -> Extracted {
        for gate in &self.gates {
            match gate.is_open(data) {
                Some(true) => {}
                Some(false) => return Extracted::OtherMultiplex,
                None => return Extracted::TooShort,
            }
        }
        let Some(bits) = self.layout.bits(data) else {
            return Extracted::TooShort;
        };
        if let Some(special) = self.special_value(bits) {
            return Extracted::Special(special);
        }
        let raw = match number_of(bits, self.layout.length(), self.number) {
            Raw::Unsigned(raw) => raw as f64,
            Raw::Signed(raw) => raw as f64,
            Raw::Float(raw) => raw,
        };
        let value = raw * self.scale + self.offset;
        if value.is_finite() {
            Extracted::Value(value)
        } else {
            Extracted::NotFinite
        }
    }

    #[inline]
    fn special_value(&self, bits: u64) -> Option<SpecialValue> {
        let length = self.layout.length();
        match (self.special_values, self.number) {
            (SpecialValues::J1939, NumberKind::Unsigned) => j1939::special_value(bits, length),
            (SpecialValues::Nmea2000, NumberKind::Unsigned) => {
                nmea2000::special_value(bits, length, false)
            }
            (SpecialValues::Nmea2000, NumberKind::Signed) => {
                nmea2000::special_value(bits, length, true)
            }
            _ => None,
        }
    }

    /// The number before scaling, whatever the multiplexer says; `None` when the
    /// payload is too short.
    #[must_use]
    pub fn raw(&self, data: &[u8]) -> Option<Raw> {
        let bits = self.layout.bits(data)?;
        Some(number_of(bits, self.layout.length(), self.number))
    }

    /// True when the signal is not in every frame of its message.
    #[must_use]
    pub fn is_multiplexed(&self) -> bool {
        !self.gates.is_empty()
    }
}

impl Gate {
    #[inline]
    fn is_open(&self, data: &[u8]) -> Option<bool> {
        let bits = self.layout.bits(data)?;
        let selector = match number_of(bits, self.layout.length(), self.number) {
            Raw::Unsigned(selector) => selector,
            // Ranges are not negative, so neither is a selector that opens.
            Raw::Signed(selector) => match u64::try_from(selector) {
                Ok(selector) => selector,
                Err(_) => return Some(false),
            },
            Raw::Float(_) => return Some(false),
        };
        let open = self
            .ranges
            .iter()
            .any(|&(least, most)| (least..=most).contains(&selector));
        Some(open)
    }
}

/// Give the bits their meaning.
#[inline]
fn number_of(bits: u64, length: u32, number: NumberKind) -> Raw {
    match number {
        NumberKind::Unsigned => Raw::Unsigned(bits),
        NumberKind::Signed => {
            let unused = 64 - length;
            Raw::Signed((bits << unused) as i64 >> unused)
        }
        NumberKind::Float32 => Raw::Float(f64::from(f32::from_bits(bits as u32))),
        NumberKind::Float64 => Raw::Float(f64::from_bits(bits)),
    }
}
