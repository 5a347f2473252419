//! The smallest step that a source makes in a channel.

use crate::codec::dbc::{Database, builtin};
use crate::rig::{Channel, Decode, InputUnit, RegisterNumber, Rig, SourceKind};

/// Smallest step of a channel's source, in the channel's unit: what the rig says, else
/// one count of a Modbus register or of a signal of a built-in database (8 kPa of a J1939
/// supply pressure). `None` where only the readings can tell it.
///
/// It is not the step in which readings are stored, which may be finer.
///
/// **Source**: the factor of the signal in its database.
///
/// ```
/// use seep_common::{quantum::quantum, rig::Rig};
/// let rig = Rig::parse(r#"
/// [vehicle]
/// name = "invented"
/// [[source]]
/// name = "bus"
/// kind = "socketcan"
/// [[channel]]
/// name = "tank_kpa_gauge"
/// source = "bus"
/// signal = "AIR1.ServiceBrakeCircuit1AirPressure"
/// "#).unwrap();
/// assert_eq!(quantum(&rig, &rig.channels[0]), Some(8.0));
/// ```
#[must_use]
pub fn quantum(rig: &Rig, channel: &Channel) -> Option<f64> {
    channel.sensor.quantum.or_else(|| of_source(rig, channel))
}

fn of_source(rig: &Rig, channel: &Channel) -> Option<f64> {
    let (counts, unit) = match &channel.decode {
        Decode::Register { number, .. } => (
            (*number != RegisterNumber::F32).then_some(1.0)?,
            channel.unit,
        ),
        Decode::Signal { path } => {
            let SourceKind::SocketCan { dbc, .. } = &rig.sources.get(channel.source)?.kind else {
                return None;
            };
            signal(dbc, path, channel)?
        }
        Decode::Transducer { .. } | Decode::Column { .. } => return None,
    };
    let at = |raw: f64| channel.value_of(raw, unit);
    Some((at(counts) - at(0.0)).abs()).filter(|q| q.is_finite() && *q > 0.0)
}

/// One count of a signal, and the unit it comes in.
fn signal(databases: &[String], path: &str, channel: &Channel) -> Option<(f64, Option<InputUnit>)> {
    databases.iter().find_map(|name| {
        let database = Database::parse(name, builtin(name)?).ok()?;
        let signal = database.find(path).ok()?.signal;
        let unit = InputUnit::parse(&signal.unit).filter(|u| u.fits(channel.quantity));
        Some((signal.scale, unit))
    })
}
