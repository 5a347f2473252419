//! A scenario: a car, what is wrong with it, its surroundings, what it does, and
//! how it is watched. Units are those an owner would use; [`crate::world`] turns
//! them into SI.
//!
//! Every field may be set from Rust; a TOML file needs only what differs from
//! the defaults. Unknown keys are refused.

mod builtin;
mod check;
mod controller;
mod disturb;
mod fault;
mod nuisance;
mod stage;
mod surroundings;
mod vary;
mod vehicle;
mod warming;
mod watch;

pub use builtin::{BUILTIN, Builtin, builtin};
pub use check::ScenarioError;
pub use controller::{By, ControllerSettings, Presets};
pub use fault::{Fault, FaultKind, Law, When};
pub use nuisance::Nuisance;
pub use stage::{Action, Stage, StageKind};
pub use surroundings::Surroundings;
pub use vehicle::{Circuit, CompressorSpec, Manifold, TankSpec, Vehicle};
pub use warming::Warming;
pub use watch::{BoxLine, BusSettings, HeightSensors, PressureSensors, PressureUnit, Watch};

use serde::{Deserialize, Serialize};

/// Everything a log is made from. All of it is invented.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// Name: lower-case letters, digits and `-`; also the folder of its logs.
    pub name: String,
    /// What happens, in one or two sentences.
    pub summary: String,
    /// Seed of every random number.
    pub seed: u64,
    /// Unix time of the start, s.
    pub start_unix_s: i64,
    /// Longest step once the car has rested for half an hour, s; at most 30.
    #[serde(default = "rest_step_s")]
    pub rest_step_s: f64,
    /// The car.
    #[serde(default)]
    pub vehicle: Vehicle,
    /// Its tank.
    #[serde(default)]
    pub tank: TankSpec,
    /// Its air springs; four corners, or two axles.
    #[serde(rename = "circuit", default = "vehicle::four_corners")]
    pub circuits: Vec<Circuit>,
    /// What the circuits share.
    #[serde(default)]
    pub manifold: Manifold,
    /// Its compressors, one or two.
    #[serde(rename = "compressor", default = "vehicle::one_compressor")]
    pub compressors: Vec<CompressorSpec>,
    /// How it is controlled.
    #[serde(default)]
    pub controller: ControllerSettings,
    /// Weather and road.
    #[serde(default)]
    pub surroundings: Surroundings,
    /// Sensors and lines.
    #[serde(default)]
    pub watch: Watch,
    /// What is wrong; the first one is the fault the log is about.
    #[serde(rename = "fault", default)]
    pub faults: Vec<Fault>,
    /// What the car does, in order.
    #[serde(rename = "stage", default)]
    pub stages: Vec<Stage>,
}

fn rest_step_s() -> f64 {
    5.0
}

impl Scenario {
    /// Read a scenario.
    ///
    /// # Errors
    /// [`ScenarioError`]: the line and the key, or what does not fit together.
    ///
    /// ```
    /// use seep_sample_logs::scenario::Scenario;
    /// let text = r#"
    /// name = "one-night"
    /// summary = "A car stands for a night."
    /// seed = 1
    /// start_unix_s = 1_777_000_000
    /// [[stage]]
    /// kind = "parked"
    /// hours = 8.0
    /// "#;
    /// assert_eq!(Scenario::parse(text).unwrap().circuits.len(), 4);
    /// let error = Scenario::parse(&text.replace("hours", "ours")).unwrap_err();
    /// assert!(error.to_string().contains("`ours`"), "{error}");
    /// ```
    pub fn parse(text: &str) -> Result<Self, ScenarioError> {
        let scenario: Scenario =
            toml::from_str(text).map_err(|error| ScenarioError::Text(error.to_string()))?;
        scenario.check()?;
        Ok(scenario)
    }

    /// Length, s.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.stages.iter().map(Stage::seconds).sum()
    }
}
