//! The frames of a bus by identifier.

use seep_common::codec::can::{CanFrame, FrameKind};
use std::collections::BTreeMap;

/// Frames that share an identifier, and where it has one the multiplexer value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FrameGroup {
    /// Identifier.
    pub id: u32,
    /// True for 29 bits.
    pub extended: bool,
    /// Value of the first byte, where it selects what the others hold.
    pub multiplexer: Option<u8>,
}

/// One payload: at most the first eight bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct FrameBytes {
    pub t_ms: i64,
    /// Bytes, zeros where the frame is shorter.
    pub bytes: [u8; 8],
    pub length: u8,
}

/// The data frames of a recording, by identifier.
#[derive(Debug, Clone, Default)]
pub struct BusRecord {
    groups: BTreeMap<(u32, bool), Vec<FrameBytes>>,
}

/// A first byte of at most so many values may be a multiplexer.
const MOST_MULTIPLEXED: usize = 16;

/// A multiplexer value seen less often is not searched on its own.
const LEAST_FRAMES: usize = 8;

impl BusRecord {
    /// Adds a frame; remote frames and error reports carry nothing and are passed
    /// over. Frames must come in the order of time.
    pub fn push(&mut self, frame: &CanFrame) {
        if frame.kind != FrameKind::Data || frame.data().is_empty() {
            return;
        }
        let data = frame.data();
        let mut bytes = [0; 8];
        let length = data.len().min(8);
        bytes[..length].copy_from_slice(&data[..length]);
        let key = (frame.id, frame.extended);
        self.groups.entry(key).or_default().push(FrameBytes {
            t_ms: frame.t_us.div_euclid(1000),
            bytes,
            length: length as u8,
        });
    }

    /// Number of identifiers.
    #[must_use]
    pub fn identifiers(&self) -> usize {
        self.groups.len()
    }

    /// First and last time, Unix ms; `None` without frames.
    #[must_use]
    pub fn span_ms(&self) -> Option<(i64, i64)> {
        let first = self
            .groups
            .values()
            .filter_map(|g| g.first())
            .map(|p| p.t_ms);
        let last = self
            .groups
            .values()
            .filter_map(|g| g.last())
            .map(|p| p.t_ms);
        Some((first.min()?, last.max()?))
    }

    /// Every group: each identifier as a whole, and each value of a first byte
    /// that may be a multiplexer.
    pub(super) fn groups(&self) -> Vec<(FrameGroup, Vec<FrameBytes>)> {
        let mut out = Vec::new();
        for (&(id, extended), payloads) in &self.groups {
            let group = |multiplexer| FrameGroup {
                id,
                extended,
                multiplexer,
            };
            out.push((group(None), payloads.clone()));
            let mut by_first: BTreeMap<u8, Vec<FrameBytes>> = BTreeMap::new();
            for payload in payloads {
                by_first.entry(payload.bytes[0]).or_default().push(*payload);
                if by_first.len() > MOST_MULTIPLEXED {
                    break;
                }
            }
            if (2..=MOST_MULTIPLEXED).contains(&by_first.len()) {
                let often = by_first
                    .into_iter()
                    .filter(|(_, p)| p.len() >= LEAST_FRAMES);
                out.extend(often.map(|(value, p)| (group(Some(value)), p)));
            }
        }
        out
    }

    /// The payloads of one group.
    pub(super) fn of(&self, group: FrameGroup) -> Vec<FrameBytes> {
        let all = self.groups.get(&(group.id, group.extended));
        all.into_iter()
            .flatten()
            .filter(|p| group.multiplexer.is_none_or(|m| m == p.bytes[0]))
            .copied()
            .collect()
    }
}
