//! Which channels and volumes of a rig the reduction reads.

use super::super::Volume;
use super::super::input::Thermometer;
use seep_common::channel::Quantity;
use seep_common::rig::{Rig, VolumeModel};
use serde::{Deserialize, Serialize};

/// Volume assumed for a corner whose size the rig does not give, L: amounts are
/// then relative. Common practice, no source.
const ASSUMED_CORNER_L: f64 = 3.0;

/// The same of a tank, L.
const ASSUMED_TANK_L: f64 = 20.0;

/// Uncertainty of a tank's stated volume. Common practice, no source.
const TANK_UNCERTAINTY: f64 = 0.02;

/// One volume and its channels.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct VolumePlan {
    pub(super) volume: Volume,
    pub(super) model: VolumeModel,
    /// Number of the circuit in the rig; `None` for the tank.
    pub(super) circuit: Option<usize>,
    /// Index of the pressure channel, and whether it reads against the outside.
    pub(super) pressure: usize,
    pub(super) is_gauge: bool,
    /// Index of the height channel, where the volume depends on the height.
    pub(super) height: Option<usize>,
    /// Index of the height channel, whether or not the volume depends on it.
    pub(super) any_height: Option<usize>,
    /// Index of a temperature channel of its own.
    pub(super) own_temperature: Option<usize>,
    /// True when wires tell all its moves.
    pub(super) wired: bool,
}

/// What the reduction reads of a log.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct ReductionPlan {
    pub(super) volumes: Vec<VolumePlan>,
    /// Names of the channels that are read.
    pub(super) channels: Vec<String>,
    pub(super) barometer: Option<usize>,
    pub(super) outside_temperature: Option<usize>,
    pub(super) tank_temperature: Option<usize>,
}

impl ReductionPlan {
    pub(super) fn of(rig: &Rig) -> Self {
        let mut channels: Vec<String> = Vec::new();
        let mut index = |place: &str, quantity| {
            let name = &rig.channel_at(place, quantity)?.name;
            if !channels.contains(name) {
                channels.push(name.clone());
            }
            channels.iter().position(|n| n == name)
        };
        let places = rig.circuits.iter().map(|c| c.name.as_str());
        let tank_recorded = index("tank", Quantity::GaugePressure)
            .or_else(|| index("tank", Quantity::AbsolutePressure))
            .is_some();
        let mut volumes = Vec::new();
        for place in places.chain(["tank"]) {
            let gauge = index(place, Quantity::GaugePressure);
            let absolute = index(place, Quantity::AbsolutePressure);
            let Some(pressure) = gauge.or(absolute) else {
                continue;
            };
            let (model, volume) = volume_of(rig, place, tank_recorded);
            let any_height = index(place, Quantity::Height);
            let height = any_height.filter(|_| model.needs_height());
            volumes.push(VolumePlan {
                volume: Volume {
                    has_height: height.is_some(),
                    ..volume
                },
                model,
                circuit: rig.circuits.iter().position(|c| c.name == place),
                pressure,
                is_gauge: gauge.is_some(),
                height,
                any_height,
                own_temperature: index(place, Quantity::Temperature),
                wired: is_wired(rig, place),
            });
        }
        ReductionPlan {
            volumes,
            barometer: index("ambient", Quantity::AbsolutePressure),
            outside_temperature: index("ambient", Quantity::Temperature),
            tank_temperature: index("tank", Quantity::Temperature),
            channels,
        }
    }
}

fn volume_of(rig: &Rig, place: &str, tank_recorded: bool) -> (VolumeModel, Volume) {
    let circuit = rig.circuit(place);
    let stated = match circuit {
        Some(circuit) => circuit.volume.clone(),
        None => rig
            .tank
            .as_ref()
            .and_then(|t| t.volume_l)
            .map_or(VolumeModel::Unknown, |volume_l| VolumeModel::Fixed {
                volume_l,
            }),
    };
    let assumed_l = if circuit.is_some() {
        ASSUMED_CORNER_L
    } else {
        ASSUMED_TANK_L
    };
    let model = match stated {
        VolumeModel::Unknown => VolumeModel::Fixed {
            volume_l: assumed_l,
        },
        stated => stated,
    };
    let volume = Volume {
        name: place.into(),
        is_tank: circuit.is_none(),
        axle: circuit.and_then(|c| c.axle.clone()),
        thermometer: Thermometer::None,
        has_height: false,
        fed_by_tank: circuit.is_some() && tank_recorded,
        volume_uncertainty: circuit
            .map_or(TANK_UNCERTAINTY, |c| c.volume_uncertainty_percent / 100.0),
        refilled_below_kpa_gauge: rig.limits.cut_in_kpa_gauge.filter(|_| circuit.is_none()),
        by_hand: false,
    };
    (model, volume)
}

/// Whether wires tell all moves of a volume: both valves of a corner; every
/// compressor of a tank.
fn is_wired(rig: &Rig, place: &str) -> bool {
    let wire = |place: &str, quantity| rig.channel_at(place, quantity).is_some();
    if place == "tank" {
        let compressors = &rig.compressors;
        let valves = rig
            .circuits
            .iter()
            .all(|c| wire(&c.name, Quantity::FillValve));
        return valves
            && !compressors.is_empty()
            && compressors.iter().all(|c| wire(&c.name, Quantity::Running));
    }
    wire(place, Quantity::FillValve) && wire(place, Quantity::DumpValve)
}
