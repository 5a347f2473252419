//! Which channel tells what about a place.

use crate::analysis::segment::Resolution;
use crate::recording::Recording;
use seep_common::channel::Quantity;
use seep_common::rig::Rig;

/// Channel names for one circuit or the tank.
#[derive(Debug, Clone, PartialEq, Eq)]
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
        let step = |name: Option<&str>| {
            recording
                .channels
                .iter()
                .filter(|c| Some(c.name.as_str()) == name)
                .map(|c| c.resolution)
                .fold(0.0, f64::max)
        };
        Resolution {
            kpa: step(self.pressure.as_ref().map(|p| p.0.as_str())),
            mm: step(self.height.as_deref()),
            kelvin: step(self.temperature.as_deref()),
        }
    }
}
