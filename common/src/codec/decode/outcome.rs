//! What became of the readings of a channel.

use crate::codec::j1939::SpecialValue;

/// How often each thing happened to the readings of one channel (or of all).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Outcomes {
    /// Passed on as samples.
    pub passed: u64,
    /// Outside the plausible range of the channel.
    pub out_of_range: u64,
    /// Frame or answer too short to hold the reading.
    pub too_short: u64,
    /// The frame carried another branch of the multiplex.
    pub other_multiplex: u64,
    /// J1939: the sender does not have this quantity.
    pub not_available: u64,
    /// J1939: the sender reports a faulty sensor.
    pub sensor_error: u64,
    /// J1939: reserved raw value.
    pub reserved: u64,
    /// J1939: raw value with a meaning of its own.
    pub parameter_specific: u64,
    /// Infinite, or not a number in floating point.
    pub not_finite: u64,
    /// NMEA: an empty value field, *no reading*.
    pub no_reading: u64,
    /// NMEA: a value field that is not a number.
    pub not_a_number: u64,
    /// NMEA: type and unit letters that do not fit the channel.
    pub wrong_unit: u64,
}

impl Outcomes {
    /// Every count with its name, as it is recorded.
    #[must_use]
    pub fn named(&self) -> [(&'static str, u64); 12] {
        [
            ("readings_passed", self.passed),
            ("out_of_range", self.out_of_range),
            ("too_short", self.too_short),
            ("other_multiplex", self.other_multiplex),
            ("not_available", self.not_available),
            ("sensor_error", self.sensor_error),
            ("reserved_value", self.reserved),
            ("parameter_specific", self.parameter_specific),
            ("not_finite", self.not_finite),
            ("no_reading", self.no_reading),
            ("not_a_number", self.not_a_number),
            ("wrong_unit", self.wrong_unit),
        ]
    }

    pub(super) fn count_special(&mut self, special: SpecialValue) {
        match special {
            SpecialValue::ParameterSpecific => self.parameter_specific += 1,
            SpecialValue::Reserved => self.reserved += 1,
            SpecialValue::Error => self.sensor_error += 1,
            SpecialValue::NotAvailable => self.not_available += 1,
        }
    }
}

impl std::ops::AddAssign for Outcomes {
    fn add_assign(&mut self, other: Self) {
        self.passed += other.passed;
        self.out_of_range += other.out_of_range;
        self.too_short += other.too_short;
        self.other_multiplex += other.other_multiplex;
        self.not_available += other.not_available;
        self.sensor_error += other.sensor_error;
        self.reserved += other.reserved;
        self.parameter_specific += other.parameter_specific;
        self.not_finite += other.not_finite;
        self.no_reading += other.no_reading;
        self.not_a_number += other.not_a_number;
        self.wrong_unit += other.wrong_unit;
    }
}

impl std::iter::Sum for Outcomes {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Outcomes::default(), |mut total, one| {
            total += one;
            total
        })
    }
}
