//! One CAN interface, or a log of one.

use super::{Pulse, Values};
use seep_common::codec::can::{CanFrame, FrameKind};
use seep_common::codec::dbc::{Database, Extracted, Message};
use seep_common::codec::j1939::pgn_of;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;

/// More identifiers than this are not listed, but counted: a 29 bit bus has a
/// few hundred.
const MOST_IDS: usize = 2_000;

/// What was heard on a bus.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct HeardBus {
    /// The interface, or the file.
    pub from: String,
    /// Name of the interface.
    pub interface: String,
    /// True for an interface of this computer.
    pub live: bool,
    /// Why nothing can be heard.
    pub problem: Option<String>,
    /// Data frames.
    pub frames: u64,
    /// Remote frames and reports of the controller.
    pub other_frames: u64,
    /// Frames of identifiers beyond those listed.
    pub unlisted_frames: u64,
    /// Messages by identifier.
    pub messages: Vec<HeardMessage>,
}

/// One identifier of a bus.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct HeardMessage {
    /// Identifier without flag bits.
    pub id: u32,
    /// True for 29 bits.
    pub extended: bool,
    /// Parameter group number of SAE J1939, when the message is known as one.
    pub group: Option<u32>,
    /// Name in a database.
    pub name: Option<String>,
    /// The database that knows it.
    pub database: Option<String>,
    /// Frames.
    pub frames: u64,
    /// Frames per second.
    pub rate_hz: Option<f64>,
    /// Length of the last one, bytes.
    pub length: usize,
    /// Bytes that have changed, from 0.
    pub moving_bytes: Vec<usize>,
    /// The last data, hexadecimal.
    pub last: String,
    /// Signals of a known message that were readings at least once.
    pub signals: Vec<HeardSignal>,
}

/// One signal of a known message.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct HeardSignal {
    /// Name in the database.
    pub name: String,
    /// Unit in the database.
    pub unit: String,
    /// Its values.
    pub values: Values,
}

/// Gathers what a bus says.
#[derive(Debug, Clone)]
pub(crate) struct BusSurvey {
    from: String,
    interface: String,
    live: bool,
    problem: Option<String>,
    databases: Arc<Vec<Database>>,
    frames: u64,
    other_frames: u64,
    unlisted_frames: u64,
    ids: BTreeMap<(u32, bool), FrameRecord>,
}

#[derive(Debug, Clone)]
struct FrameRecord {
    pulse: Pulse,
    data: Vec<u8>,
    moving: Vec<bool>,
    /// Which database and which message of it.
    known: Option<(usize, usize)>,
    values: Vec<Values>,
}

impl BusSurvey {
    pub(crate) fn new(
        from: String,
        interface: String,
        live: bool,
        databases: Arc<Vec<Database>>,
    ) -> Self {
        BusSurvey {
            from,
            interface,
            live,
            problem: None,
            databases,
            frames: 0,
            other_frames: 0,
            unlisted_frames: 0,
            ids: BTreeMap::new(),
        }
    }

    /// Name of the interface.
    pub(crate) fn interface(&self) -> &str {
        &self.interface
    }

    /// Note why nothing can be heard, or that it can.
    pub(crate) fn set_problem(&mut self, problem: Option<String>) {
        self.problem = problem;
    }

    /// Take a frame that came at this time, s.
    pub(crate) fn take(&mut self, frame: &CanFrame, t_s: f64) {
        if frame.kind != FrameKind::Data {
            self.other_frames += 1;
            return;
        }
        self.frames += 1;
        let key = (frame.id, frame.extended);
        if !self.ids.contains_key(&key) {
            if self.ids.len() >= MOST_IDS {
                self.unlisted_frames += 1;
                return;
            }
            self.ids
                .insert(key, FrameRecord::new(&self.databases, frame));
        }
        let Some(seen) = self.ids.get_mut(&key) else {
            return;
        };
        let message = seen.known.map(|(d, m)| &self.databases[d].messages()[m]);
        seen.take(frame.data(), t_s, message);
    }

    /// What was heard so far.
    pub(crate) fn heard(&self) -> HeardBus {
        let messages = self.ids.iter();
        HeardBus {
            from: self.from.clone(),
            interface: self.interface.clone(),
            live: self.live,
            problem: self.problem.clone(),
            frames: self.frames,
            other_frames: self.other_frames,
            unlisted_frames: self.unlisted_frames,
            messages: messages
                .map(|((id, extended), seen)| self.message(*id, *extended, seen))
                .collect(),
        }
    }

    fn message(&self, id: u32, extended: bool, seen: &FrameRecord) -> HeardMessage {
        let known = seen.known.map(|(d, m)| {
            let database = &self.databases[d];
            (database.name(), &database.messages()[m])
        });
        let signals = known.iter().flat_map(|(_, message)| &message.signals);
        let with_values = signals.zip(&seen.values).filter(|(_, v)| v.last.is_some());
        HeardMessage {
            id,
            extended,
            group: known.filter(|(_, m)| m.by_group).map(|_| pgn_of(id)),
            name: known.map(|(_, m)| m.name.clone()),
            database: known.map(|(name, _)| name.to_string()),
            frames: seen.pulse.count(),
            rate_hz: seen.pulse.rate_hz(),
            length: seen.data.len(),
            moving_bytes: (0..seen.moving.len()).filter(|i| seen.moving[*i]).collect(),
            last: seen.data.iter().map(|b| format!("{b:02X}")).collect(),
            signals: with_values
                .map(|(signal, values)| HeardSignal {
                    name: signal.name.clone(),
                    unit: signal.unit.clone(),
                    values: *values,
                })
                .collect(),
        }
    }
}

impl FrameRecord {
    fn new(databases: &[Database], frame: &CanFrame) -> Self {
        let known = databases.iter().enumerate().find_map(|(d, database)| {
            let matches = |m: &Message| m.matches(frame.id, frame.extended);
            Some((d, database.messages().iter().position(matches)?))
        });
        let signals = known.map_or(0, |(d, m)| databases[d].messages()[m].signals.len());
        FrameRecord {
            pulse: Pulse::default(),
            data: frame.data().to_vec(),
            moving: vec![false; frame.data().len()],
            known,
            values: vec![Values::default(); signals],
        }
    }

    fn take(&mut self, data: &[u8], t_s: f64, message: Option<&Message>) {
        self.pulse.add(Some(t_s));
        if self.moving.len() < data.len() {
            self.moving.resize(data.len(), true);
        }
        for (i, (old, new)) in self.data.iter().zip(data).enumerate() {
            self.moving[i] |= old != new;
        }
        self.data.clear();
        self.data.extend_from_slice(data);
        let signals = message.map_or(&[][..], |m| &m.signals);
        for (signal, values) in signals.iter().zip(&mut self.values) {
            if let Extracted::Value(value) = signal.extract(data) {
                values.add(value);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::codec::dbc::BUILTIN_J1939_AIR;

    #[test]
    fn groups_are_named_and_others_tell_which_bytes_move() {
        let air = Database::parse("builtin:j1939-air", BUILTIN_J1939_AIR).expect("ours");
        let databases = Arc::new(vec![air]);
        let mut survey = BusSurvey::new("can0".into(), "can0".into(), true, databases);
        for i in 0..21u8 {
            let t_s = f64::from(i) * 0.05;
            let asc4 = [0x10, 0x27, i, 0x20, 0xFF, 0xFF, 0xFF, 0xFF];
            survey.take(&CanFrame::new(0x18FE_582F, true, &asc4).expect("fits"), t_s);
            survey.take(&CanFrame::new(0x123, false, &[7, i, 9]).expect("fits"), t_s);
        }
        let heard = survey.heard();
        let unknown = &heard.messages[0];
        assert_eq!((unknown.id, unknown.name.as_deref()), (0x123, None));
        assert_eq!(unknown.moving_bytes, [1]);
        assert!((unknown.rate_hz.expect("times") - 20.0).abs() < 1e-9);
        let known = &heard.messages[1];
        assert_eq!(known.name.as_deref(), Some("ASC4"));
        assert_eq!(known.group, Some(65_112));
        // The rear is not available, so only the front is listed.
        assert_eq!(known.signals.len(), 2);
        assert_eq!(known.signals[0].values.last, Some(1000.0));
    }
}
