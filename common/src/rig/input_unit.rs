//! The unit in which a source speaks, and the way to the channel's own unit.

use crate::channel::Quantity;
use crate::units::{ICE_POINT_K, KPA_PER_BAR, KPA_PER_PSI, MM_PER_INCH};

/// A unit that a sensor, a bus database or a CSV column may use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InputUnit {
    /// The label as a rig writes it.
    pub label: &'static str,
    kind: Kind,
    factor: f64,
    offset: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Pressure,
    Length,
    Temperature,
    Voltage,
    Current,
    Speed,
    Switch,
}

const fn unit(label: &'static str, kind: Kind, factor: f64, offset: f64) -> InputUnit {
    InputUnit {
        label,
        kind,
        factor,
        offset,
    }
}

/// Every accepted unit: channel value = input × factor + offset.
const UNITS: [InputUnit; 22] = [
    unit("kpa", Kind::Pressure, 1.0, 0.0),
    unit("bar", Kind::Pressure, KPA_PER_BAR, 0.0),
    unit("mbar", Kind::Pressure, KPA_PER_BAR / 1000.0, 0.0),
    unit("hpa", Kind::Pressure, 0.1, 0.0),
    unit("pa", Kind::Pressure, 0.001, 0.0),
    unit("mpa", Kind::Pressure, 1000.0, 0.0),
    unit("psi", Kind::Pressure, KPA_PER_PSI, 0.0),
    unit("mm", Kind::Length, 1.0, 0.0),
    unit("cm", Kind::Length, 10.0, 0.0),
    unit("m", Kind::Length, 1000.0, 0.0),
    unit("in", Kind::Length, MM_PER_INCH, 0.0),
    unit("degc", Kind::Temperature, 1.0, 0.0),
    unit("degf", Kind::Temperature, 5.0 / 9.0, -160.0 / 9.0),
    unit("k", Kind::Temperature, 1.0, -ICE_POINT_K),
    unit("v", Kind::Voltage, 1.0, 0.0),
    unit("mv", Kind::Voltage, 0.001, 0.0),
    unit("a", Kind::Current, 1.0, 0.0),
    unit("ma", Kind::Current, 0.001, 0.0),
    unit("km/h", Kind::Speed, 1.0, 0.0),
    // One international mile is 1.609344 km exactly.
    unit("mph", Kind::Speed, 1.609_344, 0.0),
    unit("m/s", Kind::Speed, 3.6, 0.0),
    unit("0/1", Kind::Switch, 1.0, 0.0),
];

impl InputUnit {
    /// Find a unit by its label; case, `°` and spaces do not matter.
    ///
    /// ```
    /// use seep_common::rig::InputUnit;
    /// let psi = InputUnit::parse("PSI").unwrap();
    /// assert!((psi.to_channel(100.0) - 689.4757).abs() < 1e-4);
    /// let f = InputUnit::parse("°F").unwrap();
    /// assert!((f.to_channel(32.0)).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn parse(label: &str) -> Option<Self> {
        let plain: String = label
            .chars()
            .filter(|c| !c.is_whitespace())
            .collect::<String>()
            .to_lowercase()
            .replace('°', "deg");
        let plain = match plain.as_str() {
            "c" | "celsius" => "degc",
            "f" | "fahrenheit" => "degf",
            "kelvin" => "k",
            "kmh" | "kph" => "km/h",
            "inch" => "in",
            "volt" => "v",
            other => other,
        };
        UNITS.iter().find(|u| u.label == plain).copied()
    }

    /// The value in the channel's unit.
    #[must_use]
    pub fn to_channel(&self, value: f64) -> f64 {
        value * self.factor + self.offset
    }

    /// True when a channel of this quantity can be given in this unit.
    #[must_use]
    pub fn fits(&self, quantity: Quantity) -> bool {
        self.kind
            == match quantity {
                Quantity::GaugePressure | Quantity::AbsolutePressure => Kind::Pressure,
                Quantity::Height => Kind::Length,
                Quantity::Temperature => Kind::Temperature,
                Quantity::Voltage => Kind::Voltage,
                Quantity::Current => Kind::Current,
                Quantity::Speed => Kind::Speed,
                Quantity::FillValve | Quantity::DumpValve | Quantity::Running => Kind::Switch,
            }
    }

    /// Labels that fit a quantity, for messages.
    #[must_use]
    pub fn labels_for(quantity: Quantity) -> String {
        UNITS
            .iter()
            .filter(|u| u.fits(quantity))
            .map(|u| u.label)
            .collect::<Vec<_>>()
            .join(", ")
    }
}
