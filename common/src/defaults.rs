//! What a person sets once for both programs: units, time zone, log.
//!
//! ```toml
//! unit = "psi"                    # kpa, bar, psi
//! temperature = "f"               # c, f
//! length = "in"                   # mm, in
//! zone = "Europe/Berlin"
//! log = "/var/lib/seepd/trip.db"
//!
//! [notify]
//! command = ["/usr/local/bin/tell-me"]
//! ```
//!
//! Options and environment variables come first, then this file, then what the
//! programs do without it.

#[cfg(feature = "store")]
#[allow(
    clippy::disallowed_methods,
    reason = "reads one small file; only with the feature that does I/O"
)]
mod read;

#[cfg(feature = "store")]
pub use read::DefaultsError;

use crate::file_key::FileKey;
use crate::rig::{RigProblem, read_toml};
use serde::de::Error as _;
use serde::{Deserialize, Deserializer};
use std::path::{Path, PathBuf};

/// Every key of the file, for its manual page.
pub const DEFAULTS_KEYS: &[FileKey] = &[
    FileKey::new(
        "",
        "unit",
        "`kpa`, `bar` or `psi`",
        "`kpa`",
        "Unit of pressures in reports and in seepd status.",
        "unit = \"psi\"",
    ),
    FileKey::new(
        "",
        "temperature",
        "`c` or `f`",
        "`c`",
        "Unit of temperatures.",
        "temperature = \"f\"",
    ),
    FileKey::new(
        "",
        "length",
        "`mm` or `in`",
        "`mm`",
        "Unit of heights.",
        "length = \"in\"",
    ),
    FileKey::new(
        "",
        "zone",
        "IANA name",
        "this computer's in reports, UTC in seepd replay",
        "Time zone of times written and shown in reports, and of CAN logs whose dates name none.",
        "zone = \"Europe/Berlin\"",
    ),
    FileKey::new(
        "",
        "log",
        "whole path",
        "none",
        "The log that seepd run records to and that seep reads.",
        "log = \"/home/me/trip.db\"",
    ),
    FileKey::new(
        "notify",
        "command",
        "list of words",
        "none",
        "Program and arguments that `seep trip --notify` runs when something new asks for attention; it gets the findings as JSON on its standard input.",
        "notify.command = [\"/usr/local/bin/tell-me\", \"me@example.org\"]",
    ),
];

/// First paragraphs of the manual page.
pub const ABOUT_THE_DEFAULTS: [&str; 2] = [
    "What a person sets once for both programs, in $XDG_CONFIG_HOME/seep/seep.toml, which is ~/.config/seep/seep.toml unless that variable is set. Every key may be left out, and so may the file.",
    "Options come first, then the environment (SEEP_LOG, TZ), then this file. JSON and exported rows keep kPa, degrees Celsius and millimetres.",
];

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
    /// The log to record to and to read, a whole path.
    #[serde(default, deserialize_with = "whole_path")]
    pub log: Option<PathBuf>,
    /// Who is told when something asks for attention.
    pub notify: Option<Notify>,
}

/// Who is told when something asks for attention.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Notify {
    /// Program and arguments.
    pub command: Vec<String>,
}

/// Refuses a path that would mean another file in every folder.
fn whole_path<'de, D: Deserializer<'de>>(from: D) -> Result<Option<PathBuf>, D::Error> {
    let path = PathBuf::deserialize(from)?;
    if path.is_absolute() {
        return Ok(Some(path));
    }
    Err(D::Error::custom(format!(
        "`log`: `{}` is not a whole path; write it from the root, such as /home/me/trip.db",
        path.display()
    )))
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
    /// let relative = Defaults::parse("zone = \"UTC\"\nlog = \"trip.db\"\n").unwrap_err();
    /// assert!(relative[0].to_string().starts_with("line 2: "), "{}", relative[0]);
    /// assert!(relative[0].to_string().contains("`log`"));
    /// assert!(relative[0].to_string().contains("is not a whole path"));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_manual_page_has_every_key_with_an_example_that_reads() {
        // A new field does not compile here before it is listed.
        let Defaults {
            unit,
            temperature,
            length,
            zone,
            log,
            notify,
        } = Defaults::parse(
            &DEFAULTS_KEYS
                .iter()
                .map(|key| format!("{}\n", key.example))
                .collect::<String>(),
        )
        .expect("every example reads");
        let all = [
            unit.is_some(),
            temperature.is_some(),
            length.is_some(),
            zone.is_some(),
            log.is_some(),
            notify.is_some(),
        ];
        assert_eq!(all, [true; 6]);
        assert_eq!(DEFAULTS_KEYS.len(), all.len());
    }
}
