//! From readings to rows: range check, ticks, switch events, gaps, counters.
//!
//! A plain struct without I/O and without a clock: live and replayed readings
//! take the same way, and a test can push them by hand.

mod infer;
mod silence;

use crate::counts::{Count, Counts};
use infer::Infer;
use seep_common::channel::Quantity;
use seep_common::rig::{Rig, Source};
use seep_common::sample::{ChannelIndex, Sample};
use seep_common::store::{Batch, Event, EventKind};
use seep_common::tick::{SwitchChange, TickAssembler};
use seep_common::time::BootMs;
pub(crate) use silence::is_sign_of_life;
use silence::{SilenceTracker, tells_awake};

/// What the pipeline needs to know of a channel.
#[derive(Debug, Clone)]
struct Facts {
    source: usize,
    quantity: Quantity,
    range: (f64, f64),
    event: Option<EventKind>,
    place: String,
}

/// Turns readings at boot times into the rows of a [`Batch`].
///
/// Call [`begin`](Self::begin), then [`push`](Self::push) and
/// [`heard`](Self::heard) in about the order of time, then
/// [`finish`](Self::finish); take the rows at any moment with
/// [`take_batch`](Self::take_batch).
///
/// ```
/// use seep_common::{rig::Rig, sample::ChannelIndex, time::BootMs};
/// use seep_daemon::pipeline::Pipeline;
/// let rig = Rig::parse(r#"
/// [vehicle]
/// name = "invented"
/// [[source]]
/// name = "box"
/// kind = "nmea"
/// [[channel]]
/// name = "tank_kpa_gauge"
/// source = "box"
/// transducer = "TANK"
/// "#).unwrap();
/// let mut pipeline = Pipeline::new(&rig);
/// pipeline.begin(BootMs(1_000), &[true]);
/// pipeline.push(ChannelIndex(0), BootMs(1_000), 850.0);
/// pipeline.push(ChannelIndex(0), BootMs(1_100), 9_999.0); // beyond any tank: counted, not stored
/// pipeline.finish(BootMs(1_101));
/// let batch = pipeline.take_batch();
/// assert_eq!(batch.ticks[0].counts, [Some(17_000)]);
/// assert_eq!(batch.counters.iter().find(|c| c.name == "out of range").unwrap().count, 1);
/// ```
#[derive(Debug)]
pub struct Pipeline {
    sources: Vec<Source>,
    facts: Vec<Facts>,
    silences: SilenceTracker,
    assembler: TickAssembler,
    infer: Infer,
    counts: Counts,
    batch: Batch<BootMs>,
    begun_ms: BootMs,
    rest_after_ms: i64,
}

impl Pipeline {
    /// A pipeline for the channels and sources of a rig.
    #[must_use]
    pub fn new(rig: &Rig) -> Self {
        let facts = rig.channels.iter().map(|c| Facts {
            source: c.source,
            quantity: c.quantity,
            range: c.range,
            event: event_kind(c.quantity),
            place: c.place.clone(),
        });
        Pipeline {
            sources: rig.sources.clone(),
            facts: facts.collect(),
            silences: SilenceTracker::new(&rig.sources),
            assembler: TickAssembler::new(&rig.channels, &rig.recorder),
            infer: Infer::new(rig),
            counts: Counts::new(rig.sources.len()),
            batch: Batch::default(),
            begun_ms: BootMs(0),
            rest_after_ms: (rig.recorder.rest_after_s * 1000.0) as i64,
        }
    }

    /// A session starts at this time. Sources that take no part
    /// leave no gap; `expected` holds one entry per source of the rig.
    pub fn begin(&mut self, t_ms: BootMs, expected: &[bool]) {
        self.begun_ms = t_ms;
        self.assembler.begin(t_ms);
        self.silences.begin(t_ms, expected);
    }

    /// A reading of a channel, in its unit, at a boot time.
    pub fn push(&mut self, channel: ChannelIndex, t_ms: BootMs, value: f64) {
        let facts = &self.facts[usize::from(channel.0)];
        let source = facts.source;
        // Written so that a NaN is refused too.
        if !(value >= facts.range.0 && value <= facts.range.1) {
            self.counts.one(source, Count::OutOfRange);
            self.heard(source, t_ms);
            return;
        }
        let late = self.assembler.late();
        let sample = Sample {
            channel,
            t_ms,
            value,
        };
        let ticks = &mut self.batch.ticks;
        let change = self.assembler.push(sample, &mut |tick| ticks.push(tick));
        if self.assembler.late() != late {
            self.counts.one(source, Count::Late);
        } else {
            self.counts.one(source, Count::Readings);
            let events = &mut self.batch.events;
            self.infer.push(channel, t_ms, value, events);
            if tells_awake(self.facts[usize::from(channel.0)].quantity, value) {
                self.silences.awake(source, t_ms);
            }
        }
        if let Some(change) = change {
            self.note_switch(change);
        }
        self.heard(source, t_ms);
    }

    /// A source spoke, with or without a reading; ends its silence.
    #[inline]
    pub fn heard(&mut self, source: usize, t_ms: BootMs) {
        self.silences.heard(source, t_ms, &mut self.batch.gaps);
    }

    /// A source cannot be read: the gap that ends when it speaks again runs from
    /// the last time it was heard and has this cause.
    pub fn lost(&mut self, source: usize, cause: &str) {
        self.silences.lost(source, cause);
    }

    /// The recorder stood still between two times: a source that was not
    /// heard then was not silent. With `undated` its readings of that stretch were
    /// counted and dropped, because nothing dates them.
    pub fn paused(&mut self, source: usize, from_ms: BootMs, to_ms: BootMs, undated: bool) {
        self.silences.paused(source, from_ms, to_ms, undated);
    }

    /// True while a source that sleeps with the ignition is silent, and nothing
    /// has said for a while that the vehicle is awake.
    #[must_use]
    pub fn asleep(&self, source: usize, t_ms: BootMs) -> bool {
        self.silences.asleep(source, t_ms)
    }

    /// Time passed without readings.
    pub fn advance(&mut self, t_ms: BootMs) {
        let ticks = &mut self.batch.ticks;
        self.assembler.advance(t_ms, &mut |tick| ticks.push(tick));
    }

    /// The session ends at this time: everything held becomes rows.
    pub fn finish(&mut self, t_ms: BootMs) {
        let ticks = &mut self.batch.ticks;
        self.assembler.finish(&mut |tick| ticks.push(tick));
        self.infer.finish(&mut self.batch.events);
        self.silences.finish(t_ms, &mut self.batch.gaps);
        self.note_counters(t_ms.plus(-1));
    }

    /// Counters since the last call become rows at this time.
    pub fn note_counters(&mut self, t_ms: BootMs) {
        let rows = self.counts.drain(t_ms, &self.sources);
        self.batch.counters.extend(rows);
    }

    /// True when commits may be rare: for the rig's `rest_after_s` nothing has
    /// moved, and nothing but readings and counts waits to be stored.
    #[must_use]
    pub fn at_rest(&self, t_ms: BootMs) -> bool {
        let waits = !(self.batch.events.is_empty()
            && self.batch.gaps.is_empty()
            && self.batch.notices.is_empty());
        let since_ms = self.assembler.quiet_since_ms();
        let since_ms = since_ms.map_or(self.begun_ms, |t| t.max(self.begun_ms));
        !waits && t_ms.since(since_ms) >= self.rest_after_ms
    }

    /// What was counted.
    #[must_use]
    pub fn counts(&self) -> &Counts {
        &self.counts
    }

    /// For sources and timelines to count into.
    pub fn counts_mut(&mut self) -> &mut Counts {
        &mut self.counts
    }

    /// Rows that wait.
    #[must_use]
    pub fn batch(&self) -> &Batch<BootMs> {
        &self.batch
    }

    /// Rows of other origin (clock, gaps of the session) go through here too.
    pub fn batch_mut(&mut self) -> &mut Batch<BootMs> {
        &mut self.batch
    }

    /// The rows finished since the last call.
    pub fn take_batch(&mut self) -> Batch<BootMs> {
        std::mem::take(&mut self.batch)
    }

    fn note_switch(&mut self, change: SwitchChange) {
        let facts = &self.facts[usize::from(change.channel.0)];
        // The first reading of a switch is recorded too: its state
        // was known from then on.
        if let Some(kind) = facts.event {
            self.batch.events.push(Event {
                t_ms: change.t_ms,
                kind,
                place: facts.place.clone(),
                on: change.on,
                wired: true,
            });
        }
    }
}

fn event_kind(quantity: Quantity) -> Option<EventKind> {
    match quantity {
        Quantity::FillValve => Some(EventKind::Fill),
        Quantity::DumpValve => Some(EventKind::Dump),
        Quantity::Running => Some(EventKind::Run),
        _ => None,
    }
}

#[cfg(test)]
mod tests;
