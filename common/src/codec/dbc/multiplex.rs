//! In which frames of its message a multiplexed signal is present.

use super::layout::Layout;
use super::signal::{Gate, NumberKind};
use can_dbc::{ExtendedMultiplex, MultiplexIndicator, SignalExtendedValueType};
use std::collections::HashMap;
use std::sync::Arc;

/// A multiplexer and the values of it that open a branch.
type Condition<'a> = (&'a str, Arc<[(u64, u64)]>);

/// Nesting that is still followed; deeper is taken for a circle.
const DEEPEST: usize = 8;

/// One message as the resolver needs it.
pub(super) struct Multiplex<'a> {
    signals: HashMap<&'a str, &'a can_dbc::Signal>,
    /// Extended multiplexing: signal → (multiplexer, ranges).
    extended: HashMap<&'a str, Condition<'a>>,
    /// The signals marked `M`.
    switches: Vec<&'a str>,
    floats: &'a HashMap<(can_dbc::MessageId, &'a str), SignalExtendedValueType>,
    id: can_dbc::MessageId,
}

impl<'a> Multiplex<'a> {
    pub(super) fn new(
        message: &'a can_dbc::Message,
        extended: &[&'a ExtendedMultiplex],
        floats: &'a HashMap<(can_dbc::MessageId, &'a str), SignalExtendedValueType>,
    ) -> Self {
        let mut ranges: HashMap<&str, (&str, Vec<_>)> = HashMap::new();
        for entry in extended {
            let multiplexer = entry.multiplexor_signal_name.as_str();
            let (_, list) = ranges
                .entry(entry.signal_name.as_str())
                .or_insert_with(|| (multiplexer, Vec::new()));
            list.extend(entry.mappings.iter().map(|m| (m.min_value, m.max_value)));
        }
        Multiplex {
            signals: message
                .signals
                .iter()
                .map(|signal| (signal.name.as_str(), signal))
                .collect(),
            extended: ranges
                .into_iter()
                .map(|(signal, (multiplexer, list))| (signal, (multiplexer, list.into())))
                .collect(),
            switches: message
                .signals
                .iter()
                .filter(|s| s.multiplexer_indicator == MultiplexIndicator::Multiplexor)
                .map(|s| s.name.as_str())
                .collect(),
            floats,
            id: message.id,
        }
    }

    /// The conditions under which a signal is present, outermost first.
    pub(super) fn gates(&self, signal: &'a can_dbc::Signal) -> Result<Vec<Gate>, String> {
        let mut gates = Vec::new();
        let mut current = signal;
        while let Some((multiplexer, ranges)) = self.condition(current)? {
            if gates.len() == DEEPEST || multiplexer == current.name {
                return Err("its multiplexers form a circle".into());
            }
            let switch = self
                .signals
                .get(multiplexer)
                .ok_or_else(|| format!("its multiplexer `{multiplexer}` is not in the message"))?;
            gates.push(self.gate(switch, ranges)?);
            current = switch;
        }
        gates.reverse();
        Ok(gates)
    }

    /// What the database says about one signal: its multiplexer and the values.
    fn condition(&self, signal: &'a can_dbc::Signal) -> Result<Option<Condition<'a>>, String> {
        if let Some((multiplexer, ranges)) = self.extended.get(signal.name.as_str()) {
            return Ok(Some((multiplexer, ranges.clone())));
        }
        let value = match signal.multiplexer_indicator {
            MultiplexIndicator::MultiplexedSignal(value)
            | MultiplexIndicator::MultiplexorAndMultiplexedSignal(value) => value,
            MultiplexIndicator::Multiplexor | MultiplexIndicator::Plain => return Ok(None),
        };
        match self.switches[..] {
            [switch] => Ok(Some((switch, Arc::new([(value, value)])))),
            [] => Err("its message has no multiplexer (`M`)".into()),
            [..] => Err("its message has several multiplexers (`M`) and no `SG_MUL_VAL_` tells which one is meant".into()),
        }
    }

    fn gate(&self, switch: &can_dbc::Signal, ranges: Arc<[(u64, u64)]>) -> Result<Gate, String> {
        let name = switch.name.as_str();
        let float = self.floats.get(&(self.id, name));
        if float.is_some_and(|kind| *kind != SignalExtendedValueType::SignedOrUnsignedInteger) {
            return Err(format!("its multiplexer `{name}` is not an integer"));
        }
        let layout = Layout::new(
            switch.start_bit,
            switch.size,
            switch.byte_order == can_dbc::ByteOrder::BigEndian,
        )
        .ok_or_else(|| format!("its multiplexer `{name}` has no place in a frame"))?;
        Ok(Gate {
            layout,
            number: match switch.value_type {
                can_dbc::ValueType::Signed => NumberKind::Signed,
                can_dbc::ValueType::Unsigned => NumberKind::Unsigned,
            },
            ranges,
        })
    }
}
