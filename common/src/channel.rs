//! The channel catalogue: what can be recorded, and how its name is built.
//!
//! A channel is named `PLACE_SUFFIX`. The place is a circuit of the rig
//! (`front_left`), `tank`, a compressor (`compressor_1`), `ambient`, `supply`,
//! `vehicle`, or `other_…` for anything kept but not analysed. The suffix says
//! quantity and unit, so a column name reads as a sentence: `front_left_kpa_gauge`.

/// What a channel measures, and with it its unit and its defaults.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Quantity {
    /// Pressure above the surrounding air, kPa.
    GaugePressure,
    /// Absolute pressure, kPa (a barometer is `ambient_kpa_abs`).
    AbsolutePressure,
    /// Height relative to the ride height set at calibration, mm, up positive.
    Height,
    /// Temperature, °C.
    Temperature,
    /// Voltage, V.
    Voltage,
    /// Current, A.
    Current,
    /// Speed over ground, km/h.
    Speed,
    /// Fill valve driven: 1 open, 0 closed.
    FillValve,
    /// Dump valve driven: 1 open, 0 closed.
    DumpValve,
    /// Compressor (or other machine) running: 1 yes, 0 no.
    Running,
}

/// A name that is not `PLACE_SUFFIX` with a known suffix.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChannelNameError {
    /// The suffix is not in the catalogue.
    #[error(
        "channel name `{name}` does not end in a known quantity; use one of: {}",
        Quantity::suffix_list()
    )]
    UnknownSuffix {
        /// The name as written.
        name: String,
    },
    /// The place part is empty or has other characters than a-z, 0-9 and `_`.
    #[error(
        "channel name `{name}`: the place before the quantity must be lower-case letters, digits and `_`, starting with a letter"
    )]
    BadPlace {
        /// The name as written.
        name: String,
    },
}

impl Quantity {
    /// Every quantity, longest suffix first where one ends in another.
    pub const ALL: [Quantity; 10] = [
        Quantity::GaugePressure,
        Quantity::AbsolutePressure,
        Quantity::Height,
        Quantity::Temperature,
        Quantity::Voltage,
        Quantity::Current,
        Quantity::Speed,
        Quantity::FillValve,
        Quantity::DumpValve,
        Quantity::Running,
    ];

    /// The suffix of channel names, without the underscore.
    #[must_use]
    pub fn suffix(self) -> &'static str {
        match self {
            Quantity::GaugePressure => "kpa_gauge",
            Quantity::AbsolutePressure => "kpa_abs",
            Quantity::Height => "mm",
            Quantity::Temperature => "c",
            Quantity::Voltage => "v",
            Quantity::Current => "a",
            Quantity::Speed => "kmh",
            Quantity::FillValve => "fill",
            Quantity::DumpValve => "dump",
            Quantity::Running => "on",
        }
    }

    /// The unit as printed.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Quantity::GaugePressure | Quantity::AbsolutePressure => "kPa",
            Quantity::Height => "mm",
            Quantity::Temperature => "°C",
            Quantity::Voltage => "V",
            Quantity::Current => "A",
            Quantity::Speed => "km/h",
            Quantity::FillValve | Quantity::DumpValve | Quantity::Running => "0/1",
        }
    }

    /// Default size of one stored count, in the channel's unit.
    ///
    /// Fine enough that the mean of a second of noisy readings is not rounded
    /// away, coarse enough that a count fits two bytes over the usual range.
    #[must_use]
    pub fn default_resolution(self) -> f64 {
        match self {
            Quantity::GaugePressure | Quantity::AbsolutePressure | Quantity::Height => 0.05,
            Quantity::Temperature
            | Quantity::Voltage
            | Quantity::Current
            | Quantity::Speed
            | Quantity::FillValve
            | Quantity::DumpValve
            | Quantity::Running => 0.01,
        }
    }

    /// Default plausible range, in the channel's unit. A reading outside is
    /// counted and not stored.
    #[must_use]
    pub fn default_range(self) -> (f64, f64) {
        match self {
            Quantity::GaugePressure => (-101.0, 2_500.0),
            Quantity::AbsolutePressure => (0.0, 2_600.0),
            Quantity::Height => (-1_000.0, 1_000.0),
            Quantity::Temperature => (-60.0, 250.0),
            Quantity::Voltage => (-5.0, 100.0),
            Quantity::Current => (-500.0, 500.0),
            Quantity::Speed => (0.0, 400.0),
            Quantity::FillValve | Quantity::DumpValve | Quantity::Running => (0.0, 1.0),
        }
    }

    /// True for quantities that are only on or off.
    #[must_use]
    pub fn is_switch(self) -> bool {
        matches!(
            self,
            Quantity::FillValve | Quantity::DumpValve | Quantity::Running
        )
    }

    /// True for both pressures.
    #[must_use]
    pub fn is_pressure(self) -> bool {
        matches!(self, Quantity::GaugePressure | Quantity::AbsolutePressure)
    }

    fn suffix_list() -> String {
        Quantity::ALL
            .iter()
            .map(|q| format!("_{}", q.suffix()))
            .collect::<Vec<_>>()
            .join(", ")
    }
}

/// A channel name taken apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChannelName {
    /// Where it is measured: a circuit, `tank`, a compressor, `ambient`, …
    pub place: String,
    /// What is measured.
    pub quantity: Quantity,
}

impl ChannelName {
    /// Take a name apart.
    ///
    /// # Errors
    /// [`ChannelNameError`] when the suffix is unknown or the place is malformed.
    ///
    /// ```
    /// use seep_common::channel::{ChannelName, Quantity};
    /// let name = ChannelName::parse("front_left_kpa_gauge").unwrap();
    /// assert_eq!(name.place, "front_left");
    /// assert_eq!(name.quantity, Quantity::GaugePressure);
    /// assert_eq!(name.to_string(), "front_left_kpa_gauge");
    /// assert!(ChannelName::parse("front_left_bar").is_err());
    /// ```
    pub fn parse(name: &str) -> Result<Self, ChannelNameError> {
        let (place, quantity) = Quantity::ALL
            .iter()
            .find_map(|&quantity| {
                let place = name.strip_suffix(quantity.suffix())?.strip_suffix('_')?;
                Some((place, quantity))
            })
            .ok_or_else(|| ChannelNameError::UnknownSuffix {
                name: name.to_string(),
            })?;
        if !is_identifier(place) {
            return Err(ChannelNameError::BadPlace {
                name: name.to_string(),
            });
        }
        Ok(ChannelName {
            place: place.to_string(),
            quantity,
        })
    }
}

impl std::fmt::Display for ChannelName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}_{}", self.place, self.quantity.suffix())
    }
}

/// True for lower-case letters, digits and `_`, starting with a letter.
#[must_use]
pub fn is_identifier(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_lowercase())
        && word
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_suffix_parses_back_to_its_quantity() {
        for quantity in Quantity::ALL {
            let name = format!("rear_right_{}", quantity.suffix());
            let parsed = ChannelName::parse(&name).expect("built from the catalogue");
            assert_eq!(parsed.quantity, quantity);
            assert_eq!(parsed.to_string(), name);
        }
    }

    #[test]
    fn refuses_names_that_could_break_a_column() {
        for bad in ["_mm", "Front_mm", "1st_mm", "a-b_mm", "<script>_mm", "mm"] {
            assert!(ChannelName::parse(bad).is_err(), "{bad}");
        }
    }
}
