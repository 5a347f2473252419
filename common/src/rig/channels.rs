//! What is recorded.

use super::{Calibration, InputUnit, OnWhen, SensorError};
use crate::channel::Quantity;

/// One recorded quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// `PLACE_SUFFIX`, also the column name.
    pub name: String,
    /// Where it is measured.
    pub place: String,
    /// What is measured.
    pub quantity: Quantity,
    /// Index into [`super::Rig::sources`].
    pub source: usize,
    /// How the source's bytes become this reading.
    pub decode: Decode,
    /// Line from the raw reading to the value, before unit conversion.
    pub calibration: Calibration,
    /// Unit the value comes in; `None` when the source itself says.
    pub unit: Option<InputUnit>,
    /// For switch channels read from an analogue value.
    pub on_when: Option<OnWhen>,
    /// Size of one stored count, in the channel's unit.
    pub resolution: f64,
    /// Plausible range, in the channel's unit; readings outside are counted, not stored.
    pub range: (f64, f64),
    /// Sensor noise of one reading, one standard deviation, in the channel's
    /// unit, when the data sheet tells it; else estimated from the data.
    pub noise: Option<f64>,
    /// What the sensor is off by beyond that noise.
    pub sensor: SensorError,
    /// Longest normal time between readings, s; older means silent.
    pub period_s: f64,
}

/// How a source's bytes become a reading.
#[derive(Debug, Clone, PartialEq)]
pub enum Decode {
    /// `MESSAGE.SIGNAL` of the source's databases.
    Signal {
        /// Path of the signal.
        path: String,
    },
    /// Name of an XDR transducer.
    Transducer {
        /// The transducer's name in the sentence.
        name: String,
    },
    /// A Modbus register.
    Register {
        /// Register address, from 0.
        register: u16,
        /// Which table it is in.
        table: RegisterTable,
        /// How its words make a number.
        number: RegisterNumber,
        /// Order of the words of a two-word number.
        word_order: WordOrder,
    },
    /// A column of a CSV table.
    Column {
        /// Its heading.
        name: String,
    },
}

/// Modbus register table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RegisterTable {
    /// Input registers (function 4).
    Input,
    /// Holding registers (function 3).
    Holding,
}

/// Number in one or two registers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RegisterNumber {
    /// Signed, one word.
    I16,
    /// Unsigned, one word.
    U16,
    /// Signed, two words.
    I32,
    /// Unsigned, two words.
    U32,
    /// IEEE 754 single, two words.
    F32,
}

/// Which word comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WordOrder {
    /// Most significant word first.
    HighFirst,
    /// Least significant word first.
    LowFirst,
}

impl Channel {
    /// Value in the channel's unit of a raw reading in `unit` (the source's own
    /// unit, used when the rig does not override it).
    ///
    /// ```
    /// # use seep_common::rig::Rig;
    /// # let rig = Rig::parse(r#"
    /// # [vehicle]
    /// # name = "invented"
    /// # [[source]]
    /// # name = "box"
    /// # kind = "csv"
    /// # time_column = "t"
    /// # time_format = "unix_s"
    /// # [[channel]]
    /// # name = "tank_kpa_gauge"
    /// # source = "box"
    /// # column = "Tank"
    /// # unit = "bar"
    /// # "#).unwrap();
    /// assert_eq!(rig.channels[0].value_of(8.5, None), 850.0);
    /// ```
    #[must_use]
    pub fn value_of(&self, raw: f64, unit: Option<InputUnit>) -> f64 {
        if let Some(on_when) = self.on_when {
            return on_when.apply(raw);
        }
        let calibrated = self.calibration.apply(raw);
        match self.unit.or(unit) {
            Some(unit) => unit.to_channel(calibrated),
            None => calibrated,
        }
    }

    /// Raw values between which the channel was calibrated, and what they read
    /// as in the channel's unit; `None` without a calibration.
    #[must_use]
    pub fn calibrated_range(&self) -> Option<((f64, f64), (f64, f64))> {
        let (low, high) = self.calibration.raw_range?;
        Some((
            (low, high),
            (self.value_of(low, None), self.value_of(high, None)),
        ))
    }

    /// True when a value is finite and inside the plausible range.
    #[must_use]
    pub fn accepts(&self, value: f64) -> bool {
        value >= self.range.0 && value <= self.range.1
    }
}
