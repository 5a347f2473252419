//! The reader's units.

use crate::cli::StatusArgs;
use crate::defaults;
use crate::exit::Failure;
use seep_common::defaults::{LengthChoice, PressureChoice, TemperatureChoice};
use seep_common::units::{KPA_PER_BAR, KPA_PER_PSI, MM_PER_INCH};

/// Units in which values are shown.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Units {
    pressure: Option<PressureChoice>,
    temperature: Option<TemperatureChoice>,
    length: Option<LengthChoice>,
}

impl Units {
    /// As the options say, else as the defaults do.
    pub(super) fn of(args: &StatusArgs) -> Result<Self, Failure> {
        let defaults = defaults::read()?;
        Ok(Units {
            pressure: args.unit.or(defaults.unit),
            temperature: args.temperature.or(defaults.temperature),
            length: args.length.or(defaults.length),
        })
    }

    /// A value in one of the recorder's units, in the reader's.
    pub(super) fn shown<'a>(&self, value: Option<f64>, unit: &'a str) -> (Option<f64>, &'a str) {
        let with = |f: &dyn Fn(f64) -> f64| value.map(f);
        match (unit, self.pressure, self.temperature, self.length) {
            ("kPa", Some(PressureChoice::Bar), ..) => (with(&|v| v / KPA_PER_BAR), "bar"),
            ("kPa", Some(PressureChoice::Psi), ..) => (with(&|v| v / KPA_PER_PSI), "psi"),
            // Exact by definition of the degree Fahrenheit.
            ("°C", _, Some(TemperatureChoice::F), _) => (with(&|v| v * 1.8 + 32.0), "°F"),
            ("mm", _, _, Some(LengthChoice::In)) => (with(&|v| v / MM_PER_INCH), "in"),
            _ => (value, unit),
        }
    }

    /// Decimals that show the same steps in every unit.
    pub(super) fn digits(&self, unit: &str) -> usize {
        match unit {
            "bar" => 3,
            "in" => 2,
            _ => 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// **Source**: NIST SP 811 (2008), appendix B: 1 psi = 6.894757 kPa.
    #[test]
    fn values_in_the_readers_units() {
        let units = Units {
            pressure: Some(PressureChoice::Psi),
            temperature: Some(TemperatureChoice::F),
            length: Some(LengthChoice::In),
        };
        let (psi, unit) = units.shown(Some(689.4757), "kPa");
        assert!((psi.expect("a value") - 100.0).abs() < 1e-5);
        assert_eq!(unit, "psi");
        assert_eq!(units.shown(Some(100.0), "°C"), (Some(212.0), "°F"));
        assert_eq!(units.shown(Some(25.4), "mm"), (Some(1.0), "in"));
        assert_eq!(units.shown(None, "mm"), (None, "in"));
        assert_eq!(units.shown(Some(12.6), "V"), (Some(12.6), "V"));
        assert_eq!(Units::default().shown(Some(1.0), "kPa"), (Some(1.0), "kPa"));
    }
}
