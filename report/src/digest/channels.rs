//! Which channel tells what about a place.

use crate::analysis::segment::Resolution;
use crate::recording::Recording;
use seep_common::channel::Quantity;
use seep_common::quantum::quantum;
use seep_common::rig::{Rig, SensorError};
use serde::{Deserialize, Serialize};

/// Channel names for one circuit or the tank.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlaceChannels {
    /// Pressure, and whether it is gauge.
    pub pressure: Option<(String, bool)>,
    /// Height.
    pub height: Option<String>,
    /// Temperature nearest to the air.
    pub temperature: Option<String>,
}

impl PlaceChannels {
    /// Channels of a place: its own temperature first, then the surroundings'.
    ///
    /// A corner takes the ambient channel before the tank's: the tank is warmed
    /// by every compressor run, the corner is not.
    #[must_use]
    pub fn of(rig: &Rig, place: &str) -> Self {
        let named = |place: &str, quantity| rig.channel_at(place, quantity).map(|c| c.name.clone());
        let pressure = named(place, Quantity::GaugePressure)
            .map(|n| (n, true))
            .or_else(|| named(place, Quantity::AbsolutePressure).map(|n| (n, false)));
        let temperature = [place, "ambient", "tank"]
            .into_iter()
            .find_map(|p| named(p, Quantity::Temperature));
        PlaceChannels {
            pressure,
            height: named(place, Quantity::Height),
            temperature,
        }
    }

    /// Steps in which these channels are stored; the coarsest where the log
    /// changed it.
    #[must_use]
    pub fn resolution(&self, recording: &Recording) -> Resolution {
        let step = |name: Option<&str>| name.map_or(0.0, |name| finest_step(recording, name));
        Resolution {
            kpa: step(self.pressure.as_ref().map(|p| p.0.as_str())),
            mm: step(self.height.as_deref()),
            kelvin: step(self.temperature.as_deref()),
        }
    }
}

/// The finest step that a channel can show: the coarsest of those in which the log stores
/// it, or that of its source where that is coarser.
pub(super) fn finest_step(recording: &Recording, name: &str) -> f64 {
    let stored = recording.channels.iter().filter(|c| c.name == name);
    let stored = stored.map(|c| c.resolution).fold(0.0, f64::max);
    let own = recording.rig.channels.iter().find(|c| c.name == name);
    let of_source = own.and_then(|c| quantum(&recording.rig, c));
    stored.max(of_source.unwrap_or(0.0))
}

/// Errors of the pressure sensor of a place, with the step of its source.
pub(crate) fn pressure_sensor(rig: &Rig, place: &str) -> SensorError {
    let quantities = [Quantity::GaugePressure, Quantity::AbsolutePressure];
    let found = quantities
        .into_iter()
        .find(|q| rig.channel_at(place, *q).is_some());
    sensor(rig, place, found.unwrap_or(Quantity::GaugePressure))
}

/// The same of its height sensor.
pub(crate) fn height_sensor(rig: &Rig, place: &str) -> SensorError {
    sensor(rig, place, Quantity::Height)
}

fn sensor(rig: &Rig, place: &str, quantity: Quantity) -> SensorError {
    rig.channel_at(place, quantity).map_or_else(
        || SensorError::usual(quantity),
        |c| SensorError {
            quantum: quantum(rig, c),
            ..c.sensor
        },
    )
}
