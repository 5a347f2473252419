//! What the car does.

use serde::{Deserialize, Serialize};

/// Kind of stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum StageKind {
    /// Ignition on, the car drives.
    Drive,
    /// It stands; the recorder and the box have power.
    Parked,
    /// It stands and nothing has power: no records.
    Off,
}

/// A thing done at a time within a stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Action {
    /// When, min after the start of the stage.
    pub at_min: f64,
    /// Call a preset: `low`, `drive` or `high`, or `empty` to let the air out.
    #[serde(default)]
    pub preset: Option<String>,
    /// People and luggage from now on, kg per circuit in their order.
    #[serde(default)]
    pub load_kg: Option<Vec<f64>>,
}

/// One stage of the log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stage {
    /// What.
    pub kind: StageKind,
    /// How long, h (added to [`Stage::minutes`]).
    #[serde(default)]
    pub hours: f64,
    /// How long, min.
    #[serde(default)]
    pub minutes: f64,
    /// Speed when it flows, km/h.
    #[serde(default = "country_road")]
    pub kmh: f64,
    /// Altitude reached at the end, m; unchanged when left out.
    #[serde(default)]
    pub to_altitude_m: Option<f64>,
    /// Where the nose points while it stands, degrees from north; unchanged when
    /// left out.
    #[serde(default)]
    pub heading_deg: Option<f64>,
    /// Height of the ground under each circuit while it stands, mm; unchanged when
    /// left out, even while driving.
    #[serde(default)]
    pub ground_mm: Option<Vec<f64>>,
    /// What is done meanwhile.
    #[serde(rename = "do", default)]
    pub actions: Vec<Action>,
}

fn country_road() -> f64 {
    60.0
}

impl Stage {
    /// A stage without actions.
    #[must_use]
    pub fn new(kind: StageKind, minutes: f64) -> Self {
        Stage {
            kind,
            hours: 0.0,
            minutes,
            kmh: country_road(),
            to_altitude_m: None,
            heading_deg: None,
            ground_mm: None,
            actions: Vec::new(),
        }
    }

    /// The same with a preset called at a time.
    #[must_use]
    pub fn preset(mut self, at_min: f64, preset: &str) -> Self {
        self.actions.push(Action {
            at_min,
            preset: Some(preset.into()),
            load_kg: None,
        });
        self
    }

    /// Length, s.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.hours * 3600.0 + self.minutes * 60.0
    }
}
