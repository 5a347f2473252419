//! The scenarios that come with the project.

use super::{Scenario, ScenarioError};

/// Name and text of every scenario in `scenarios/`.
pub const BUILTIN: [(&str, &str); 5] = [
    (
        "healthy-road-trip",
        include_str!("../../scenarios/healthy-road-trip.toml"),
    ),
    (
        "slow-leak-overnight",
        include_str!("../../scenarios/slow-leak-overnight.toml"),
    ),
    (
        "fill-valve-passing",
        include_str!("../../scenarios/fill-valve-passing.toml"),
    ),
    (
        "kinked-line",
        include_str!("../../scenarios/kinked-line.toml"),
    ),
    (
        "worn-compressor",
        include_str!("../../scenarios/worn-compressor.toml"),
    ),
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
    match BUILTIN.iter().find(|(known, _)| *known == name) {
        Some((_, text)) => Scenario::parse(text),
        None => Err(ScenarioError::Other {
            key: name.into(),
            problem: format!(
                "no scenario of this name; known here: {}",
                BUILTIN.map(|(known, _)| known).join(", ")
            ),
        }),
    }
}
