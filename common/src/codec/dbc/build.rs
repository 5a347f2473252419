//! From the parser's tree to messages and signals that can be decoded.

use super::error::{DbcError, DbcNote, SignalProblem};
use super::groups::Groups;
use super::layout::Layout;
use super::message::{Message, UnusableSignal};
use super::multiplex::Multiplex;
use super::signal::{NumberKind, Signal, SpecialValues};
use super::text::MessageLines;
use crate::codec::can::{MAX_EXTENDED_ID, MAX_FD_BYTES, MAX_STANDARD_ID};
use crate::codec::nmea2000;
use can_dbc::{ExtendedMultiplex, MessageId, SignalExtendedValueType};
use std::collections::{HashMap, HashSet};

type Floats<'a> = HashMap<(MessageId, &'a str), SignalExtendedValueType>;

/// Mark of a 29 bit identifier in a message number.
const EXTENDED_MARK: u64 = 0x8000_0000;

/// Bytes of one J1939 frame.
const J1939_FRAME_BYTES: u64 = 8;

/// Build every message.
pub(super) fn messages(
    dbc: &can_dbc::Dbc,
    lines: &[MessageLines],
    notes: &mut Vec<DbcNote>,
) -> Vec<Message> {
    let floats: Floats<'_> = dbc
        .signal_extended_value_type_list
        .iter()
        .map(|entry| {
            let key = (entry.message_id, entry.signal_name.as_str());
            (key, entry.signal_extended_value_type)
        })
        .collect();
    let mut extended: HashMap<MessageId, Vec<&ExtendedMultiplex>> = HashMap::new();
    for entry in &dbc.extended_multiplex {
        extended.entry(entry.message_id).or_default().push(entry);
    }
    let groups = Groups::new(dbc);
    // The scan and the parser see the same messages; if not, do without lines.
    let lines = if lines.len() == dbc.messages.len() {
        lines
    } else {
        &[]
    };
    let mut seen = HashSet::new();
    dbc.messages
        .iter()
        .enumerate()
        .map(|(index, parsed)| {
            let at = lines.get(index);
            let entries = extended.get(&parsed.id).map_or(&[][..], Vec::as_slice);
            let multiplex = Multiplex::new(parsed, entries, &floats);
            let message = message(parsed, at, groups.by_group(parsed.id), &multiplex, &floats);
            if !seen.insert(parsed.name.as_str()) {
                notes.push(DbcNote {
                    line: message.line,
                    what: format!("a second message `{}`; the first one is used", parsed.name),
                });
            }
            note_oddities(&message, notes);
            message
        })
        .collect()
}

fn message(
    parsed: &can_dbc::Message,
    lines: Option<&MessageLines>,
    by_group: bool,
    multiplex: &Multiplex<'_>,
    floats: &Floats<'_>,
) -> Message {
    let (id, extended) = match parsed.id {
        MessageId::Standard(id) => (u32::from(id), false),
        MessageId::Extended(id) => (id, true),
    };
    let mut message = Message {
        name: parsed.name.clone(),
        id,
        extended,
        length: parsed.size,
        by_group: by_group && extended,
        line: lines.map_or(0, |lines| lines.line),
        signals: Vec::new(),
        unusable: Vec::new(),
    };
    let whole = whole_message_problem(&message, lines.and_then(|lines| lines.number));
    for (index, source) in parsed.signals.iter().enumerate() {
        let line = lines
            .and_then(|lines| lines.signals.get(index).copied())
            .unwrap_or(0);
        let built = match &whole {
            Some(problem) => Err(problem.clone()),
            None => signal(
                source,
                line,
                &message,
                multiplex,
                floats.get(&(parsed.id, source.name.as_str())),
            ),
        };
        match built {
            Ok(signal) => message.signals.push(signal),
            Err(problem) => message.unusable.push(UnusableSignal {
                name: source.name.clone(),
                line,
                problem,
            }),
        }
    }
    message
}

/// What makes every signal of a message undecodable.
fn whole_message_problem(message: &Message, number: Option<u64>) -> Option<SignalProblem> {
    if let Some(number) = number {
        let id = number & !EXTENDED_MARK;
        let most = if number & EXTENDED_MARK == 0 {
            MAX_STANDARD_ID
        } else {
            MAX_EXTENDED_ID
        };
        if id > u64::from(most) {
            return Some(SignalProblem::Identifier { number });
        }
    }
    let most = if message.by_group {
        J1939_FRAME_BYTES
    } else {
        MAX_FD_BYTES as u64
    };
    (message.length > most).then_some(SignalProblem::SeveralFrames {
        bytes: message.length,
    })
}

fn signal(
    source: &can_dbc::Signal,
    line: usize,
    message: &Message,
    multiplex: &Multiplex<'_>,
    float: Option<&SignalExtendedValueType>,
) -> Result<Signal, SignalProblem> {
    let big_endian = source.byte_order == can_dbc::ByteOrder::BigEndian;
    let layout =
        Layout::new(source.start_bit, source.size, big_endian).ok_or(SignalProblem::Place {
            start_bit: source.start_bit,
            length: source.size,
        })?;
    if layout.bytes_needed() as u64 > message.length {
        return Err(SignalProblem::BeyondMessage {
            needed: layout.bytes_needed(),
            has: message.length,
        });
    }
    if !(source.factor.is_finite() && source.factor != 0.0 && source.offset.is_finite()) {
        return Err(SignalProblem::Scale {
            factor: source.factor,
            offset: source.offset,
        });
    }
    Ok(Signal {
        name: source.name.clone(),
        unit: source.unit.clone(),
        line,
        layout,
        number: number_kind(source, float)?,
        scale: source.factor,
        offset: source.offset,
        gates: multiplex
            .gates(source)
            .map_err(|what| SignalProblem::Multiplexer { what })?,
        special_values: special_values(message),
    })
}

fn special_values(message: &Message) -> SpecialValues {
    match message.pgn().filter(|_| message.by_group) {
        Some(pgn) if nmea2000::is_parameter_group(pgn) => SpecialValues::Nmea2000,
        Some(_) => SpecialValues::J1939,
        None => SpecialValues::None,
    }
}

fn number_kind(
    source: &can_dbc::Signal,
    float: Option<&SignalExtendedValueType>,
) -> Result<NumberKind, SignalProblem> {
    let (kind, length) = match float {
        Some(SignalExtendedValueType::IEEEfloat32Bit) => (NumberKind::Float32, 32),
        Some(SignalExtendedValueType::IEEEdouble64bit) => (NumberKind::Float64, 64),
        _ if source.value_type == can_dbc::ValueType::Signed => (NumberKind::Signed, source.size),
        _ => (NumberKind::Unsigned, source.size),
    };
    if source.size == length {
        Ok(kind)
    } else {
        Err(SignalProblem::FloatLength {
            length: source.size,
        })
    }
}

/// Undecodable signals, and plain signals that share a bit.
fn note_oddities(message: &Message, notes: &mut Vec<DbcNote>) {
    for bad in &message.unusable {
        notes.push(DbcNote {
            line: bad.line,
            what: format!(
                "`{}.{}` cannot be decoded: {}",
                message.name, bad.name, bad.problem
            ),
        });
    }
    let mut owner = [None::<&Signal>; MAX_FD_BYTES * 8];
    for signal in message.signals.iter().filter(|s| !s.is_multiplexed()) {
        let mut other = None;
        for bit in signal.layout.bit_numbers() {
            if let Some(slot) = owner.get_mut(bit) {
                other = other.or(slot.replace(signal));
            }
        }
        if let Some(other) = other {
            notes.push(DbcNote {
                line: signal.line,
                what: format!(
                    "`{0}.{1}` overlaps `{0}.{2}`; both are decoded as written",
                    message.name, signal.name, other.name
                ),
            });
        }
    }
}

/// The parser's error with line, column and the start of the text there.
pub(super) fn parse_error(name: &str, text: &str, error: &can_dbc::DbcError) -> DbcError {
    let database = name.to_string();
    let can_dbc::DbcError::Pest(error) = error else {
        let problem = error.to_string();
        // The parser names the value, not its place.
        let value = problem.split('\'').nth(1).filter(|v| !v.is_empty());
        let at = value.and_then(|v| text.lines().position(|line| line.contains(v)));
        return DbcError::Value {
            database,
            line: at.unwrap_or(0) + 1,
            problem,
        };
    };
    // The position is only to be had from the printed form, whose first line is
    // ` --> line:column`.
    let printed = error.to_string();
    let mut numbers = printed
        .lines()
        .next()
        .unwrap_or_default()
        .split(|c: char| !c.is_ascii_digit())
        .filter_map(|number| number.parse::<usize>().ok());
    let (line, column) = (numbers.next().unwrap_or(1), numbers.next().unwrap_or(1));
    let rest = text.lines().nth(line - 1).unwrap_or_default();
    let found = rest.chars().skip(column - 1).take(40).collect();
    DbcError::Syntax {
        database,
        line,
        column,
        found,
    }
}
