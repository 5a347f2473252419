//! The scenarios that come with the project.

use super::{Scenario, ScenarioError};

/// A scenario that comes with the project.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Builtin {
    /// Its name.
    pub name: &'static str,
    /// Its text.
    pub text: &'static str,
    /// Its logs are kept in `logs/`; those of others are made on demand, for
    /// the logs together are to stay small.
    pub kept: bool,
}

macro_rules! builtin {
    ($name:literal, $kept:literal) => {
        Builtin {
            name: $name,
            text: include_str!(concat!("../../scenarios/", $name, ".toml")),
            kept: $kept,
        }
    };
}

/// Every scenario in `scenarios/`.
pub const BUILTIN: [Builtin; 8] = [
    builtin!("healthy-road-trip", true),
    builtin!("slow-leak-overnight", true),
    builtin!("fill-valve-passing", true),
    builtin!("kinked-line", true),
    builtin!("worn-compressor", true),
    builtin!("cold-only-leak", false),
    builtin!("hot-compressor", false),
    builtin!("axle-circuits", false),
];

/// A scenario that comes with the project.
///
/// # Errors
/// [`ScenarioError::Other`] when there is none of this name.
///
/// ```
/// let scenario = seep_sample_logs::scenario::builtin("kinked-line").unwrap();
/// assert_eq!(scenario.faults[0].kind.word(), "line_restricted");
/// assert!(seep_sample_logs::scenario::builtin("kinked").is_err());
/// ```
pub fn builtin(name: &str) -> Result<Scenario, ScenarioError> {
    match BUILTIN.iter().find(|known| known.name == name) {
        Some(known) => Scenario::parse(known.text),
        None => Err(ScenarioError::Other {
            key: name.into(),
            problem: format!(
                "no scenario of this name; known here: {}",
                BUILTIN.map(|known| known.name).join(", ")
            ),
        }),
    }
}
