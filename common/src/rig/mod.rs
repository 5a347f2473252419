//! The rig: what the vehicle is, where its sensors are wired, how it is recorded.
//!
//! One TOML file. It is stored whole in every log, so a report needs nothing
//! else. [`Rig::parse`] refuses unknown keys and says the nearest known one.

mod calibration;
mod channels;
mod error;
mod input_unit;
mod keys;
mod lines;
mod mistakes;
mod raw;
mod resolve;
mod sensor;
mod sources;
mod volume;
mod weaknesses;

pub use calibration::{Calibration, OnWhen};
pub use channels::{Channel, Decode, RegisterNumber, RegisterTable, WordOrder};
pub use error::{RigError, RigProblem};
pub use input_unit::InputUnit;
pub use keys::RIG_KEYS;
pub use lines::line_of_key;
pub(crate) use mistakes::read as read_toml;
pub use mistakes::read_with_mistakes;
pub use sensor::SensorError;
pub use sources::{Source, SourceKind};
pub use volume::VolumeModel;
pub use weaknesses::{SeenRange, Weakness};

use crate::channel::Quantity;
use std::collections::BTreeMap;

/// A vehicle on air, as its rig file describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Rig {
    /// The owner's name for the vehicle.
    pub vehicle: String,
    /// Altitude where the vehicle lives, m; used when no barometer is recorded.
    pub altitude_m: Option<f64>,
    /// The vehicle and its readings are made up.
    pub invented: bool,
    /// The tank, if there is one.
    pub tank: Option<Tank>,
    /// Air springs, or shared pairs on one axle.
    pub circuits: Vec<Circuit>,
    /// Heights that the driver has names for.
    pub positions: Vec<NamedPosition>,
    /// Compressors.
    pub compressors: Vec<Compressor>,
    /// Pressures at which the compressor should start and stop, and tolerances.
    pub limits: Limits,
    /// Where readings come from.
    pub sources: Vec<Source>,
    /// What is recorded, in column order.
    pub channels: Vec<Channel>,
    /// How it is recorded.
    pub recorder: Recorder,
    /// The file as written, byte for byte.
    pub text: String,
}

/// The tank.
#[derive(Debug, Clone, PartialEq)]
pub struct Tank {
    /// Volume with its fittings, L. Unknown when the rig does not say.
    pub volume_l: Option<f64>,
}

/// One air spring, or a shared pair on one axle, with its fill and dump valve.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Name, the place part of its channels.
    pub name: String,
    /// Axle it stands on, `front` or `rear` or another word; circuits of one
    /// axle are compared with each other.
    pub axle: Option<String>,
    /// The left and the right spring of a pair on one axle that shares these valves: places
    /// whose heights are read.
    pub sides: Option<[String; 2]>,
    /// Volume of air behind the valves, spring and line, against height.
    pub volume: VolumeModel,
    /// Part of that volume that the rig gives for the line alone, cm³.
    pub line_volume_cm3: f64,
    /// Where the pressure sensor sits.
    pub sensor_at: SensorAt,
    /// Uncertainty of that volume, percent, one standard deviation.
    pub volume_uncertainty_percent: f64,
    /// Stroke for which times to height are compared, mm, lower end first.
    pub reference_mm: (f64, f64),
    /// Pressures of the corner at its two ends, kPa gauge.
    pub reference_kpa_gauge: (f64, f64),
    /// Height at which it rests on its lower stop, mm.
    pub lower_stop_mm: Option<f64>,
    /// Height at which it is fully extended, mm.
    pub upper_stop_mm: Option<f64>,
    /// Height below which the owner calls it low, mm.
    pub lowest_ok_mm: Option<f64>,
    /// Pressure below which the owner calls it low, kPa gauge.
    pub lowest_ok_kpa_gauge: Option<f64>,
}

/// A height of the car that has a name.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedPosition {
    /// What the driver calls it.
    pub name: String,
    /// Height of each circuit, mm.
    pub mm: BTreeMap<String, f64>,
}

/// Where the pressure sensor of a circuit sits.
///
/// The line from the valves to the spring lies between the two places: a sensor at the
/// manifold reads what the valves see, so that the flow law over its readings gives the
/// valves alone, however narrow the line has become.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SensorAt {
    /// At the spring, behind valve and line.
    #[default]
    Bag,
    /// At the valves, before the line.
    Manifold,
}

/// One compressor.
#[derive(Debug, Clone, PartialEq)]
pub struct Compressor {
    /// Name, the place part of its channels.
    pub name: String,
    /// Duty its maker allows, percent.
    pub rated_duty_percent: Option<f64>,
    /// Window for that duty, min. 10 unless the plate says otherwise
    /// (IEC 60034-1, duty type S3).
    pub rated_window_min: f64,
    /// True unless the rig says `delivers = false`: while it is on, air goes
    /// into the tank. False for a machine whose running time is told but whose
    /// on and off are no delivery, such as the motor of a compressor that runs
    /// on unloaded. The tank is not at rest while it is on either way; only of
    /// one that delivers are switch pressures and delivery measured.
    ///
    /// ```
    /// use seep_common::rig::Rig;
    /// let rig = Rig::parse(r#"
    /// [vehicle]
    /// name = "invented"
    /// [[compressor]]
    /// name = "compressor_1"
    /// [[compressor]]
    /// name = "motor"
    /// delivers = false
    /// "#).unwrap();
    /// assert!(rig.compressors[0].delivers && !rig.compressors[1].delivers);
    /// ```
    pub delivers: bool,
}

/// Switch points and tolerances.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Tank pressure at which the compressor should start, kPa gauge.
    pub cut_in_kpa_gauge: Option<f64>,
    /// Tank pressure at which it should stop, kPa gauge.
    pub cut_out_kpa_gauge: Option<f64>,
    /// Tank pressure for which times to height are compared, kPa gauge.
    pub reference_tank_kpa_gauge: f64,
    /// A corner within this of its final height has arrived, mm.
    pub height_tolerance_mm: f64,
    /// The same where no height is recorded, kPa.
    pub pressure_tolerance_kpa: f64,
}

/// How the recorder works.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorder {
    /// Longest time between commits, s: the bound on loss at a power cut.
    pub commit_s: f64,
    /// The same while nothing has moved for [`rest_after_s`](Self::rest_after_s),
    /// s; never below `commit_s`.
    pub rest_commit_s: f64,
    /// Commits become rarer when for so long no valve opened, no compressor ran,
    /// no pressure moved and nothing drove, s.
    pub rest_after_s: f64,
    /// Rate around valve and compressor activity, Hz.
    pub full_rate_hz: f64,
    /// Rate while driving, Hz.
    pub driving_rate_hz: f64,
    /// Length of one tick at rest, s.
    pub rest_period_s: f64,
    /// Full rate starts this long before activity, s.
    pub before_activity_s: f64,
    /// Full rate ends this long after activity, s.
    pub after_activity_s: f64,
    /// A silence of all sources longer than this ends the session in a replay, s.
    pub power_off_s: f64,
    /// Sessions older than this may be deleted, days. `None` keeps all.
    pub keep_days: Option<f64>,
    /// Oldest sessions are deleted to keep this much space free, MB.
    pub keep_free_mb: u64,
}

impl Default for Recorder {
    fn default() -> Self {
        Recorder {
            commit_s: 2.0,
            rest_commit_s: 300.0,
            rest_after_s: 300.0,
            full_rate_hz: 50.0,
            driving_rate_hz: 10.0,
            rest_period_s: 1.0,
            before_activity_s: 2.0,
            after_activity_s: 5.0,
            power_off_s: 120.0,
            keep_days: None,
            keep_free_mb: 256,
        }
    }
}

impl Rig {
    /// Read a rig file.
    ///
    /// # Errors
    /// [`RigError`] with every problem found: line, key, what to do.
    ///
    /// ```
    /// use seep_common::rig::Rig;
    /// let rig = Rig::parse(r#"
    /// [vehicle]
    /// name = "invented"
    /// [[source]]
    /// name = "box"
    /// kind = "nmea"
    /// [[channel]]
    /// name = "tank_kpa_gauge"
    /// source = "box"
    /// transducer = "TANK"
    /// "#).unwrap();
    /// assert_eq!(rig.channels.len(), 1);
    ///
    /// let error = Rig::parse("[vehicle]\nnam = \"x\"").unwrap_err();
    /// assert!(error.to_string().contains("line 2: nam"));
    /// assert!(error.to_string().contains("did you mean `name`?"));
    /// ```
    pub fn parse(text: &str) -> Result<Rig, RigError> {
        match Self::parse_leniently(text) {
            (Some(rig), problems) if problems.is_empty() => Ok(rig),
            (_, problems) => Err(RigError { problems }),
        }
    }

    /// Reads what can be read of a rig file, with every problem found: to look
    /// for further mistakes in what the rig names. Not for use when there are
    /// problems.
    #[must_use]
    pub fn parse_leniently(text: &str) -> (Option<Rig>, Vec<RigProblem>) {
        resolve::resolve(text)
    }

    /// A channel by place and quantity.
    #[must_use]
    pub fn channel_at(&self, place: &str, quantity: Quantity) -> Option<&Channel> {
        self.channels
            .iter()
            .find(|c| c.place == place && c.quantity == quantity)
    }

    /// A circuit by name.
    #[must_use]
    pub fn circuit(&self, name: &str) -> Option<&Circuit> {
        self.circuits.iter().find(|c| c.name == name)
    }
}

#[cfg(test)]
mod tests;
