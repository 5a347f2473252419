//! From frames to items: no I/O, no clock.

use crate::source::live::NOT_DATED;
use crate::source::{ALIVE_EVERY_MS, Item, Payload, summed};
use seep_common::codec::can::CanFrame;
use seep_common::codec::decode::{CanDecoder, IdFilter};
use seep_common::time::BootMs;

/// Decodes the frames of one bus.
#[derive(Debug, Clone)]
pub(super) struct BusDecoder {
    source: usize,
    decoder: CanDecoder,
    /// When it was last said that the bus is alive, ms.
    said_ms: BootMs,
    /// Readings that nothing dates; dropped.
    undated: u64,
}

impl BusDecoder {
    pub(super) fn new(source: usize, decoder: CanDecoder) -> Self {
        BusDecoder {
            source,
            decoder,
            said_ms: BootMs::MIN,
            undated: 0,
        }
    }

    /// Identifiers worth receiving.
    pub(super) fn filters(&self) -> Vec<IdFilter> {
        self.decoder.filters()
    }

    /// Take a frame that arrived at `t_ms`.
    pub(super) fn take(&mut self, frame: &CanFrame, t_ms: BootMs, items: &mut Vec<Item>) {
        let before = items.len();
        self.decoder.decode(frame, t_ms, &mut |sample| {
            items.push(Item {
                t_ms,
                payload: Payload::Reading(sample.channel, sample.value),
            });
        });
        if items.len() > before {
            self.said_ms = t_ms;
        } else {
            self.say(t_ms, Payload::Heard(self.source as u16), items);
        }
    }

    /// Takes a frame that arrived at an unknown time: its readings are counted and
    /// dropped. Returns how many.
    pub(super) fn take_undated(&mut self, frame: &CanFrame, t_ms: BootMs) -> u64 {
        let mut dropped = 0;
        self.decoder.decode(frame, t_ms, &mut |_| dropped += 1);
        self.undated += dropped;
        dropped
    }

    /// Something else moved on the bus.
    pub(super) fn alive(&mut self, t_ms: BootMs, items: &mut Vec<Item>) {
        self.say(t_ms, Payload::Alive, items);
    }

    fn say(&mut self, t_ms: BootMs, payload: Payload, items: &mut Vec<Item>) {
        if t_ms.since(self.said_ms) >= ALIVE_EVERY_MS {
            self.said_ms = t_ms;
            items.push(Item { t_ms, payload });
        }
    }

    /// Every count with its name, as it is recorded.
    pub(super) fn named(&self) -> impl Iterator<Item = (&'static str, u64)> {
        let outcomes = summed(self.decoder.outcomes());
        let undated = [(NOT_DATED, self.undated)];
        let counts = self.decoder.counts().named();
        counts.into_iter().chain(outcomes).chain(undated)
    }
}
