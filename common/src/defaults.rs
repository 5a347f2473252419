//! What a person sets once for both programs: units, time zone, log.
//!
//! ```toml
//! unit = "psi"                    # kpa, bar, psi
//! temperature = "f"               # c, f
//! length = "in"                   # mm, in
//! zone = "Europe/Berlin"
//! log = "/var/lib/seepd/trip.db"
//! ```
//!
//! Options and environment variables come first, then this file, then what the
//! programs do without it.

use crate::rig::{RigProblem, read_toml};
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// Unit of printed pressures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PressureChoice {
    /// Kilopascal.
    Kpa,
    /// Bar.
    Bar,
    /// Pound-force per square inch.
    Psi,
}

/// Unit of printed temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TemperatureChoice {
    /// Degree Celsius.
    C,
    /// Degree Fahrenheit.
    F,
}

/// Unit of printed heights.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LengthChoice {
    /// Millimetre.
    Mm,
    /// Inch.
    In,
}

/// A person's defaults; every one may be absent.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Defaults {
    /// Unit of pressures.
    pub unit: Option<PressureChoice>,
    /// Unit of temperatures.
    pub temperature: Option<TemperatureChoice>,
    /// Unit of heights.
    pub length: Option<LengthChoice>,
    /// Time zone of times written and shown, IANA name.
    pub zone: Option<String>,
    /// The log to record to and to read.
    pub log: Option<PathBuf>,
}

impl Defaults {
    /// Reads the text of a file of defaults.
    ///
    /// # Errors
    /// Every mistake with its line and the nearest known key.
    ///
    /// ```
    /// use seep_common::defaults::{Defaults, PressureChoice};
    /// let read = Defaults::parse("unit = \"psi\"\n").unwrap();
    /// assert_eq!(read.unit, Some(PressureChoice::Psi));
    /// let wrong = Defaults::parse("unti = \"psi\"\nlenght = \"in\"\n").unwrap_err();
    /// assert_eq!(wrong.len(), 2);
    /// assert!(wrong[1].to_string().contains("line 2: lenght"));
    /// assert!(wrong[1].to_string().contains("did you mean `length`?"));
    /// ```
    pub fn parse(text: &str) -> Result<Self, Vec<RigProblem>> {
        let read = read_toml::<Defaults>(text);
        match read.content {
            Some(content) if read.problems.is_empty() => Ok(content),
            _ => Err(read.problems),
        }
    }

    /// Where the file lies: below `XDG_CONFIG_HOME`, else below `.config` in the
    /// home folder. `None` without either.
    ///
    /// **Source**: XDG Base Directory Specification 0.8 (a relative
    /// `XDG_CONFIG_HOME` is ignored).
    ///
    /// ```
    /// use seep_common::defaults::Defaults;
    /// use std::path::Path;
    /// let home = Some(Path::new("/home/a"));
    /// let usual = Defaults::path(None, home).unwrap();
    /// assert_eq!(usual, Path::new("/home/a/.config/seep/seep.toml"));
    /// let moved = Defaults::path(Some(Path::new("/etc/mine")), home).unwrap();
    /// assert_eq!(moved, Path::new("/etc/mine/seep/seep.toml"));
    /// assert_eq!(Defaults::path(Some(Path::new("mine")), home), Some(usual));
    /// ```
    #[must_use]
    pub fn path(config_home: Option<&Path>, home: Option<&Path>) -> Option<PathBuf> {
        let folder = match config_home.filter(|f| f.is_absolute()) {
            Some(folder) => folder.to_path_buf(),
            None => home.filter(|f| f.is_absolute())?.join(".config"),
        };
        Some(folder.join("seep/seep.toml"))
    }
}
