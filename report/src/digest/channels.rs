//! Which channel tells what about a place.

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
}
