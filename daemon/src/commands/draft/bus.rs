//! A CAN bus as a source of the draft.

use super::drafted::{Drafted, DraftedChannel, quoted};
use super::guess::guess;
use crate::heard::{Heard, HeardBus, HeardMessage, HeardSignal, HeardTransducer};
use seep_common::channel::Quantity;
use seep_common::codec::dbc::builtin;
use seep_common::rig::InputUnit;

/// Channels of the built-in databases. **Source**: their signals (see the comments
/// in the databases themselves).
const STANDARD: [(&str, &str); 17] = [
    ("ASC4.BellowPressureFrontAxleLeft", "front_left_kpa_gauge"),
    ("ASC4.BellowPressureFrontAxleRight", "front_right_kpa_gauge"),
    ("ASC4.BellowPressureRearAxleLeft", "rear_left_kpa_gauge"),
    ("ASC4.BellowPressureRearAxleRight", "rear_right_kpa_gauge"),
    ("ASC3.RelativeLevelFrontAxleLeft", "front_left_mm"),
    ("ASC3.RelativeLevelFrontAxleRight", "front_right_mm"),
    ("ASC3.RelativeLevelRearAxleLeft", "rear_left_mm"),
    ("ASC3.RelativeLevelRearAxleRight", "rear_right_mm"),
    ("AIR1.AirSuspensionSupplyPressure1", "tank_kpa_gauge"),
    ("AIR1.PneumaticSupplyPressure", "other_supply_kpa_gauge"),
    ("AIR1.AirCompressorStatus", "compressor_1_on"),
    ("AMB.BarometricPressure", "ambient_kpa_abs"),
    ("AMB.AmbientAirTemperature", "ambient_c"),
    ("CCVS1.WheelBasedVehicleSpeed", "vehicle_kmh"),
    ("B.BrakePrimaryPressure", "other_brake_1_kpa_gauge"),
    ("B.BrakeSecondaryPressure", "other_brake_2_kpa_gauge"),
    ("ActualPressure.Atmospheric", "ambient_kpa_abs"),
];

/// Compressed air of NMEA 2000; the instance is the last part. Which of them is
/// the tank, nobody says.
const COMPRESSED_AIR: &str = "ActualPressure.CompressedAir";

const BUILTIN: &str = "builtin:j1939-air";

/// So many unknown identifiers are named.
const UNKNOWN_NAMED: usize = 12;

/// Places of corners that the bus tells of.
pub(super) fn circuits(heard: &Heard) -> Vec<String> {
    let channels = heard.buses.iter().flat_map(channels);
    let endings = ["_kpa_gauge", "_mm"];
    channels
        .filter_map(|(c, _)| {
            let place = endings.iter().find_map(|e| c.name.strip_suffix(e))?;
            (place.starts_with("front") || place.starts_with("rear")).then(|| place.to_string())
        })
        .collect()
}

pub(super) fn drafted(bus: &HeardBus) -> Drafted {
    let found = channels(bus);
    let mut databases: Vec<&str> = Vec::new();
    for (_, database) in &found {
        if !databases.contains(database) {
            databases.push(database);
        }
    }
    if databases.is_empty() {
        databases.push(BUILTIN);
    }
    let list: Vec<_> = databases.iter().map(|d| quoted(d)).collect();
    let mut remarks = Vec::new();
    if found.is_empty() {
        remarks.push(
            "No signal known here was heard on this bus; give `seepd draft --dbc FILE`, or look for one.".into(),
        );
    }
    remarks.extend(unknown(bus));
    Drafted {
        source: format!(
            "kind = \"socketcan\"\ninterface = {}\ndbc = [{}]\nsilence_s = 5\n#? sleeps_with_ignition = true  # when the bus has power only with the ignition",
            quoted(&bus.interface),
            list.join(", ")
        ),
        channels: found.into_iter().map(|(channel, _)| channel).collect(),
        remarks,
    }
}

/// Channels, each with its database.
fn channels(bus: &HeardBus) -> Vec<(DraftedChannel, &str)> {
    let mut out: Vec<(DraftedChannel, &str)> = Vec::new();
    for message in &bus.messages {
        let (Some(name), Some(database)) = (&message.name, &message.database) else {
            continue;
        };
        for signal in &message.signals {
            let path = format!("{name}.{}", signal.name);
            let made = if builtin(database).is_some() {
                standard(&path, signal)
            } else {
                of_own_database(&path, signal)
            };
            // Several senders may send one group.
            let fresh = made.filter(|m| out.iter().all(|(known, _)| known.keys != m.keys));
            out.extend(fresh.map(|channel| (channel, database.as_str())));
        }
    }
    out
}

fn standard(path: &str, signal: &HeardSignal) -> Option<DraftedChannel> {
    if let Some(instance) = path.strip_prefix(COMPRESSED_AIR) {
        // Signals of instances that do not speak have no reading.
        signal.values.last?;
        return Some(DraftedChannel {
            name: format!("other_air_{instance}_kpa_gauge"),
            keys: vec![format!("signal = {}", quoted(path))],
            reason: format!(
                "compressed air, instance {instance}: rename it `tank_kpa_gauge` if it is the tank; {}",
                seen(signal)
            ),
            blank: false,
        });
    }
    let (_, channel) = STANDARD.iter().find(|(known, _)| *known == path)?;
    Some(DraftedChannel {
        name: (*channel).into(),
        keys: vec![format!("signal = {}", quoted(path))],
        reason: format!("a signal of the standard; {}", seen(signal)),
        blank: false,
    })
}

/// A signal of a database of the person's own, when its unit says what it is.
fn of_own_database(path: &str, signal: &HeardSignal) -> Option<DraftedChannel> {
    let unit = InputUnit::parse(&signal.unit)?;
    let quantity = Quantity::ALL.iter().copied().find(|q| unit.fits(*q))?;
    let kind = match quantity {
        Quantity::GaugePressure => "P",
        Quantity::Height => "D",
        Quantity::Temperature => "C",
        _ => "",
    };
    let named = HeardTransducer {
        name: signal.name.clone(),
        kind: kind.into(),
        unit: String::new(),
        unit_label: Some(unit.label.into()),
        readings: 0,
        without_number: 0,
        rate_hz: None,
        values: signal.values,
    };
    let guess = guess(&named, None);
    let quantity = guess.quantity.filter(|q| unit.fits(*q)).unwrap_or(quantity);
    Some(DraftedChannel {
        name: format!("{}_{}", guess.place, quantity.suffix()),
        keys: vec![format!("signal = {}", quoted(path))],
        reason: format!(
            "{}; unit {} as the database says; {}",
            guess.reason,
            unit.label,
            seen(signal)
        ),
        blank: false,
    })
}

fn seen(signal: &HeardSignal) -> String {
    match (signal.values.lowest, signal.values.highest) {
        (Some(low), Some(high)) => format!("{low} to {high} were heard"),
        _ => "no reading was heard so far".into(),
    }
}

fn unknown(bus: &HeardBus) -> Option<String> {
    let moving = |m: &&HeardMessage| m.name.is_none() && !m.moving_bytes.is_empty();
    let unknown: Vec<_> = bus.messages.iter().filter(moving).collect();
    if unknown.is_empty() {
        return None;
    }
    let named: Vec<_> = unknown
        .iter()
        .take(UNKNOWN_NAMED)
        .map(|m| {
            let bytes: Vec<_> = m.moving_bytes.iter().map(ToString::to_string).collect();
            format!("{:X} (bytes {})", m.id, bytes.join(" "))
        })
        .collect();
    let identifiers = match unknown.len() {
        1 => "1 identifier is not known here and has".into(),
        n => format!("{n} identifiers are not known here and have"),
    };
    Some(format!(
        "{identifiers} bytes that move: {}{}",
        named.join(", "),
        if unknown.len() > UNKNOWN_NAMED {
            ", …"
        } else {
            ""
        }
    ))
}
