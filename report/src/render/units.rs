//! The units a person reads, converted once, on the way out.
//!
//! Analyses and JSON keep kPa, °C and mm. Text, HTML and CSV convert here.

use seep_common::units::{KPA_PER_BAR, KPA_PER_PSI, MM_PER_INCH};

use crate::model::{Measured, Unit};

/// Unit of printed pressures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PressureUnit {
    /// Kilopascal.
    #[default]
    Kpa,
    /// Bar, 100 kPa.
    Bar,
    /// Pound-force per square inch.
    Psi,
}

/// Unit of printed temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TemperatureUnit {
    /// Degree Celsius.
    #[default]
    Celsius,
    /// Degree Fahrenheit.
    Fahrenheit,
}

/// Unit of printed heights.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LengthUnit {
    /// Millimetre.
    #[default]
    Mm,
    /// Inch.
    Inch,
}

/// The reader's choice of units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DisplayUnits {
    /// Pressures.
    pub pressure: PressureUnit,
    /// Temperatures.
    pub temperature: TemperatureUnit,
    /// Heights.
    pub length: LengthUnit,
}

/// How one [`Unit`] is printed: `printed = value · factor + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// Factor from the stored unit.
    pub factor: f64,
    /// Offset after the factor; only temperatures have one.
    pub offset: f64,
    /// Short form behind a number; empty for counts and pure numbers.
    pub symbol: &'static str,
}

impl DisplayUnits {
    /// How `unit` is printed under this choice.
    ///
    /// ```
    /// use seep_report::model::Unit;
    /// use seep_report::render::units::{DisplayUnits, PressureUnit};
    /// let psi = DisplayUnits { pressure: PressureUnit::Psi, ..DisplayUnits::default() };
    /// let shown = psi.shown(Unit::KpaGauge);
    /// assert!((shown.apply(689.4757) - 100.0).abs() < 1e-5);
    /// assert_eq!(shown.symbol, "psi");
    /// ```
    #[must_use]
    pub fn shown(self, unit: Unit) -> Shown {
        match unit {
            Unit::KpaGauge | Unit::KpaDifference => self.pressure(["kPa", "bar", "psi"]),
            Unit::KpaAbs => self.pressure(["kPa abs", "bar abs", "psi abs"]),
            Unit::KpaPerHour => self.pressure(["kPa/h", "bar/h", "psi/h"]),
            Unit::KpaPerDay => self.pressure(["kPa/d", "bar/d", "psi/d"]),
            Unit::KpaPerSecond => self.pressure(["kPa/s", "bar/s", "psi/s"]),
            Unit::Mm => self.length(["mm", "in"]),
            Unit::MmPerHour => self.length(["mm/h", "in/h"]),
            Unit::MmPerDay => self.length(["mm/d", "in/d"]),
            Unit::MmPerSecond => self.length(["mm/s", "in/s"]),
            Unit::Celsius => self.temperature(32.0, ["°C", "°F"]),
            Unit::KelvinDifference => self.temperature(0.0, ["K", "°F"]),
            other => Shown::as_is(fixed_symbol(other)),
        }
    }

    /// A number with its interval, converted. Its `unit` still names the
    /// stored unit; the printed symbol comes from [`DisplayUnits::shown`].
    #[must_use]
    pub(crate) fn convert(self, m: &Measured) -> (Measured, &'static str) {
        let shown = self.shown(m.unit);
        let converted = Measured {
            value: shown.apply(m.value),
            low: m.low.map(|x| shown.apply(x)),
            high: m.high.map(|x| shown.apply(x)),
            ..*m
        };
        (converted, shown.symbol)
    }

    fn pressure(self, symbols: [&'static str; 3]) -> Shown {
        let (factor, symbol) = match self.pressure {
            PressureUnit::Kpa => (1.0, symbols[0]),
            PressureUnit::Bar => (1.0 / KPA_PER_BAR, symbols[1]),
            PressureUnit::Psi => (1.0 / KPA_PER_PSI, symbols[2]),
        };
        Shown::scaled(factor, symbol)
    }

    fn length(self, symbols: [&'static str; 2]) -> Shown {
        match self.length {
            LengthUnit::Mm => Shown::as_is(symbols[0]),
            LengthUnit::Inch => Shown::scaled(1.0 / MM_PER_INCH, symbols[1]),
        }
    }

    fn temperature(self, offset: f64, symbols: [&'static str; 2]) -> Shown {
        match self.temperature {
            TemperatureUnit::Celsius => Shown::as_is(symbols[0]),
            TemperatureUnit::Fahrenheit => Shown {
                factor: 1.8,
                offset,
                symbol: symbols[1],
            },
        }
    }
}

impl Shown {
    fn as_is(symbol: &'static str) -> Self {
        Shown::scaled(1.0, symbol)
    }

    fn scaled(factor: f64, symbol: &'static str) -> Self {
        Shown {
            factor,
            offset: 0.0,
            symbol,
        }
    }

    /// A value in the printed unit.
    #[must_use]
    pub fn apply(self, value: f64) -> f64 {
        value * self.factor + self.offset
    }
}

/// Symbol of the units nobody chooses.
fn fixed_symbol(unit: Unit) -> &'static str {
    match unit {
        Unit::Micrometre => "µm",
        Unit::Seconds => "s",
        Unit::SecondsPerDay => "s/d",
        Unit::AnrCm3PerMin => "cm³/min ANR",
        Unit::AnrLitresPerMin => "L/min ANR",
        Unit::AnrLitres => "L ANR",
        Unit::Litres => "L",
        Unit::SonicConductance => "dm³/(s·bar)",
        Unit::SonicConductancePerDay => "dm³/(s·bar)/d",
        Unit::Percent => "%",
        Unit::PercentPerDay => "%/d",
        Unit::PercentPoints => "points",
        Unit::PerHour => "per h",
        Unit::PerDay => "per d",
        Unit::Volt => "V",
        Unit::Ampere => "A",
        Unit::KmPerHour => "km/h",
        Unit::Hertz => "Hz",
        Unit::Bytes => "B",
        // Counts and pure numbers carry no symbol; the chosen units never
        // come here.
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PSI: DisplayUnits = DisplayUnits {
        pressure: PressureUnit::Psi,
        temperature: TemperatureUnit::Fahrenheit,
        length: LengthUnit::Inch,
    };

    /// NIST SP 811 (2008), appendix B.8: 1 psi = 6.894 757 kPa; B.8.2:
    /// t(°F) = 1.8 t(°C) + 32; 1 in = 25.4 mm exactly.
    #[test]
    fn conversions_agree_with_sp_811() {
        let bar = DisplayUnits {
            pressure: PressureUnit::Bar,
            ..DisplayUnits::default()
        };
        let cases = [
            (PSI, Unit::KpaGauge, 6.894_757, 1.0, 1e-6),
            (PSI, Unit::KpaPerHour, 6.894_757, 1.0, 1e-6),
            (PSI, Unit::Celsius, 100.0, 212.0, 1e-12),
            (PSI, Unit::Celsius, -40.0, -40.0, 1e-12),
            (PSI, Unit::KelvinDifference, 5.0, 9.0, 1e-12),
            (PSI, Unit::Mm, 25.4, 1.0, 1e-12),
            (bar, Unit::KpaAbs, 101.325, 1.013_25, 1e-12),
            (bar, Unit::Mm, 25.4, 25.4, 1e-12),
        ];
        for (units, unit, stored, printed, tolerance) in cases {
            let got = units.shown(unit).apply(stored);
            assert!((got - printed).abs() < tolerance, "{unit:?}: {got}");
        }
    }

    #[test]
    fn every_unit_but_counts_has_a_symbol() {
        for unit in Unit::ALL {
            let bare = matches!(unit, Unit::Count | Unit::One);
            for units in [DisplayUnits::default(), PSI] {
                assert_eq!(units.shown(unit).symbol.is_empty(), bare, "{unit:?}");
            }
        }
    }
}
