//! Modbus registers to samples.

use super::error::{DecodeError, DecodeProblem};
use super::outcome::Outcomes;
use super::target::Target;
use crate::rig::{Decode, RegisterNumber, RegisterTable, Rig, WordOrder};
use crate::sample::{ChannelIndex, Sample};
use crate::time::BootMs;

/// Registers one request may ask for (Modbus Application Protocol V1.1b3, 6.3).
const MOST_REGISTERS: u16 = 125;

/// Adjacent registers that are asked for in one request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RegisterBlock {
    /// Which table.
    pub table: RegisterTable,
    /// First register, from 0.
    pub first: u16,
    /// How many.
    pub count: u16,
}

/// A channel in a block.
#[derive(Debug, Clone)]
struct RegisterUse {
    at: usize,
    number: RegisterNumber,
    order: WordOrder,
    target: Target,
}

/// Decodes the answers of one Modbus station.
///
/// Registers are joined into one request only when they are adjacent: a station
/// may refuse a request that touches a register it does not have.
///
/// ```
/// use seep_common::codec::decode::ModbusDecoder;
/// use seep_common::rig::Rig;
/// use seep_common::time::BootMs;
/// let rig = Rig::parse(r#"
/// [vehicle]
/// name = "invented"
/// [[source]]
/// name = "line"
/// kind = "modbus"
/// [[channel]]
/// name = "tank_kpa_gauge"
/// source = "line"
/// register = 4
/// number = "f32"
/// unit = "bar"
/// "#).unwrap();
/// let mut decoder = ModbusDecoder::new(&rig, 0).unwrap();
/// assert_eq!((decoder.blocks()[0].first, decoder.blocks()[0].count), (4, 2));
/// let mut values = Vec::new();
/// decoder.decode(0, &[0x4108, 0x0000], BootMs(0), &mut |sample| values.push(sample.value));
/// assert_eq!(values, [850.0]); // 8.5 bar
/// ```
#[derive(Debug, Clone)]
pub struct ModbusDecoder {
    blocks: Vec<RegisterBlock>,
    uses: Vec<Vec<RegisterUse>>,
}

impl ModbusDecoder {
    /// Build from the channels of a source of the rig.
    ///
    /// # Errors
    /// [`DecodeError`] when a channel of the source has no register, or a
    /// two-word number starts at the last register.
    pub fn new(rig: &Rig, source: usize) -> Result<Self, DecodeError> {
        let mut problems = Vec::new();
        let mut wanted = Vec::new();
        for target in Target::of_source(rig, source) {
            match wanted_of(&target) {
                Ok((block, number, order)) => wanted.push((block, number, order, target)),
                Err((problem, remedy)) => problems.push(DecodeProblem {
                    channel: target.channel.name,
                    problem: problem.into(),
                    remedy: remedy.into(),
                }),
            }
        }
        wanted.sort_by_key(|(block, ..)| (block.table == RegisterTable::Holding, block.first));
        let mut decoder = ModbusDecoder {
            blocks: Vec::new(),
            uses: Vec::new(),
        };
        for (block, number, order, target) in wanted {
            decoder.add(block, number, order, target);
        }
        DecodeError::unless(problems, decoder)
    }

    fn add(
        &mut self,
        new: RegisterBlock,
        number: RegisterNumber,
        order: WordOrder,
        target: Target,
    ) {
        let joined = self.blocks.last_mut().and_then(|last| last.join(new));
        if joined.is_none() {
            self.blocks.push(new);
            self.uses.push(Vec::new());
        }
        if let (Some(block), Some(uses)) = (self.blocks.last(), self.uses.last_mut()) {
            uses.push(RegisterUse {
                at: usize::from(new.first - block.first),
                number,
                order,
                target,
            });
        }
    }

    /// What to ask for in each round.
    #[must_use]
    pub fn blocks(&self) -> &[RegisterBlock] {
        &self.blocks
    }

    /// Decode the answer to the request for block number `block`; `t_ms` is the
    /// log time its samples get. An answer that is too short counts as such for
    /// the channels it leaves out.
    pub fn decode(
        &mut self,
        block: usize,
        words: &[u16],
        t_ms: BootMs,
        sink: &mut impl FnMut(Sample),
    ) {
        for each in self.uses.get_mut(block).into_iter().flatten() {
            let words = words.get(each.at..).unwrap_or_default();
            match register_number(words, each.number, each.order) {
                Some(raw) => each.target.put(raw, None, t_ms, sink),
                None => each.target.outcomes.too_short += 1,
            }
        }
    }

    /// Readings of each channel so far.
    pub fn outcomes(&self) -> impl Iterator<Item = (ChannelIndex, Outcomes)> + '_ {
        self.uses
            .iter()
            .flatten()
            .map(|each| (each.target.index, each.target.outcomes))
    }
}

impl RegisterBlock {
    /// Grow to hold `next` when it starts inside or right after this block.
    fn join(&mut self, next: RegisterBlock) -> Option<()> {
        let end = u32::from(self.first) + u32::from(self.count);
        let next_end = u32::from(next.first) + u32::from(next.count);
        let count = next_end.max(end) - u32::from(self.first);
        let fits = next.table == self.table
            && u32::from(next.first) <= end
            && count <= u32::from(MOST_REGISTERS);
        fits.then(|| self.count = count as u16)
    }
}

type Wanted = (RegisterBlock, RegisterNumber, WordOrder);

fn wanted_of(target: &Target) -> Result<Wanted, (&'static str, &'static str)> {
    let Decode::Register {
        register,
        table,
        number,
        word_order,
    } = target.channel.decode
    else {
        return Err(("is not decoded from registers", "give it a `register`"));
    };
    let count = words_of(number);
    if u32::from(register) + u32::from(count) > 0x1_0000 {
        return Err((
            "a number of two words cannot start at the last register",
            "correct `register` or `number`",
        ));
    }
    let block = RegisterBlock {
        table,
        first: register,
        count,
    };
    Ok((block, number, word_order))
}

fn words_of(number: RegisterNumber) -> u16 {
    match number {
        RegisterNumber::I16 | RegisterNumber::U16 => 1,
        RegisterNumber::I32 | RegisterNumber::U32 | RegisterNumber::F32 => 2,
    }
}

/// The number at the start of some registers; `None` when there are too few.
///
/// Bytes within a register are big-endian by the protocol; the order of the two
/// words of a longer number differs between stations.
///
/// ```
/// use seep_common::codec::decode::register_number;
/// use seep_common::rig::{RegisterNumber, WordOrder};
/// let words = [0xFFFF, 0xFF38];
/// let number = |kind, order| register_number(&words, kind, order);
/// assert_eq!(number(RegisterNumber::I32, WordOrder::HighFirst), Some(-200.0));
/// assert_eq!(number(RegisterNumber::U16, WordOrder::HighFirst), Some(65_535.0));
/// assert_eq!(register_number(&words[1..], RegisterNumber::I32, WordOrder::HighFirst), None);
/// ```
#[must_use]
pub fn register_number(words: &[u16], number: RegisterNumber, order: WordOrder) -> Option<f64> {
    let first = *words.first()?;
    let both = words.get(1).map(|&second| match order {
        WordOrder::HighFirst => u32::from(first) << 16 | u32::from(second),
        WordOrder::LowFirst => u32::from(second) << 16 | u32::from(first),
    });
    Some(match number {
        RegisterNumber::U16 => f64::from(first),
        RegisterNumber::I16 => f64::from(first as i16),
        RegisterNumber::U32 => f64::from(both?),
        RegisterNumber::I32 => f64::from(both? as i32),
        RegisterNumber::F32 => f64::from(f32::from_bits(both?)),
    })
}
