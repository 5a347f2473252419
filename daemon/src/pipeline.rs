//! From readings to rows: range check, ticks, switch events, gaps, counters.
//!
//! A plain struct without I/O and without a clock: live and replayed readings
//! take the same way, and a test can push them by hand.

mod infer;

use crate::counts::{Count, Counts};
use infer::Infer;
use seep_common::channel::Quantity;
use seep_common::rig::{Rig, Source};
use seep_common::sample::{ChannelIndex, Sample};
use seep_common::store::cause::SOURCE_SILENT;
use seep_common::store::{Batch, Event, EventKind, Gap};
use seep_common::tick::{SwitchChange, TickAssembler};

/// What the pipeline needs to know of a channel.
#[derive(Debug, Clone)]
struct Facts {
    source: usize,
    range: (f64, f64),
    event: Option<EventKind>,
    place: String,
}

/// How long a source has been silent.
#[derive(Debug, Clone)]
struct Silence {
    limit_ms: i64,
    /// `None` for a source that takes no part.
    last_heard_ms: Option<i64>,
    /// Why it cannot be read, when that is known.
    lost: Option<String>,
}

/// Turns readings at log times into the rows of a [`Batch`].
///
/// Call [`begin`](Self::begin), then [`push`](Self::push) and
/// [`heard`](Self::heard) in about the order of time, then
/// [`finish`](Self::finish); take the rows at any moment with
/// [`take_batch`](Self::take_batch).
///
/// ```
/// use seep_common::{rig::Rig, sample::ChannelIndex};
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
/// pipeline.begin(1_000, &[true]);
/// pipeline.push(ChannelIndex(0), 1_000, 850.0);
/// pipeline.push(ChannelIndex(0), 1_100, 9_999.0); // beyond any tank: counted, not stored
/// pipeline.finish(1_101);
/// let batch = pipeline.take_batch();
/// assert_eq!(batch.ticks[0].counts, [Some(17_000)]);
/// assert_eq!(batch.counters.iter().find(|c| c.name == "out of range").unwrap().count, 1);
/// ```
#[derive(Debug)]
pub struct Pipeline {
    sources: Vec<Source>,
    facts: Vec<Facts>,
    silences: Vec<Silence>,
    assembler: TickAssembler,
    infer: Infer,
    counts: Counts,
    batch: Batch,
}

impl Pipeline {
    /// A pipeline for the channels and sources of a rig.
    #[must_use]
    pub fn new(rig: &Rig) -> Self {
        let facts = rig.channels.iter().map(|c| Facts {
            source: c.source,
            range: c.range,
            event: event_kind(c.quantity),
            place: c.place.clone(),
        });
        let silences = rig.sources.iter().map(|s| Silence {
            limit_ms: (s.silence_s * 1000.0) as i64,
            last_heard_ms: None,
            lost: None,
        });
        Pipeline {
            sources: rig.sources.clone(),
            facts: facts.collect(),
            silences: silences.collect(),
            assembler: TickAssembler::new(&rig.channels, &rig.recorder),
            infer: Infer::new(rig),
            counts: Counts::new(rig.sources.len()),
            batch: Batch::default(),
        }
    }

    /// A session starts at this log time, ms. Of sources that take no part no
    /// word is expected; `expected` holds one entry per source of the rig.
    pub fn begin(&mut self, t_ms: i64, expected: &[bool]) {
        self.assembler.begin(t_ms);
        for (silence, &expected) in self.silences.iter_mut().zip(expected) {
            silence.last_heard_ms = expected.then_some(t_ms);
            silence.lost = None;
        }
    }

    /// A reading of a channel, in its unit, at a log time, ms.
    pub fn push(&mut self, channel: ChannelIndex, t_ms: i64, value: f64) {
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
        }
        if let Some(change) = change {
            self.note_switch(change);
        }
        self.heard(source, t_ms);
    }

    /// A source spoke, with or without a reading; ends its silence.
    pub fn heard(&mut self, source: usize, t_ms: i64) {
        let silence = &mut self.silences[source];
        let Some(last_ms) = silence.last_heard_ms else {
            return;
        };
        if t_ms <= last_ms {
            return;
        }
        silence.last_heard_ms = Some(t_ms);
        self.end_silence(source, last_ms, t_ms);
    }

    /// A source cannot be read: the gap that ends when it speaks again runs from
    /// the last time it was heard and has this cause.
    pub fn lost(&mut self, source: usize, cause: &str) {
        let silence = &mut self.silences[source];
        // The first cause explains the outage; what follows is its consequence.
        if silence.last_heard_ms.is_some() && silence.lost.is_none() {
            silence.lost = Some(cause.into());
        }
    }

    /// Time passed without readings, ms.
    pub fn advance(&mut self, t_ms: i64) {
        let ticks = &mut self.batch.ticks;
        self.assembler.advance(t_ms, &mut |tick| ticks.push(tick));
    }

    /// The session ends at this log time, ms: everything held becomes rows.
    pub fn finish(&mut self, t_ms: i64) {
        let ticks = &mut self.batch.ticks;
        self.assembler.finish(&mut |tick| ticks.push(tick));
        self.infer.finish(&mut self.batch.events);
        for source in 0..self.silences.len() {
            if let Some(last_ms) = self.silences[source].last_heard_ms.take() {
                self.end_silence(source, last_ms, t_ms);
            }
        }
        self.note_counters(t_ms.saturating_sub(1));
    }

    /// Counters since the last call become rows at this log time, ms.
    pub fn note_counters(&mut self, t_ms: i64) {
        let rows = self.counts.drain(t_ms, &self.sources);
        self.batch.counters.extend(rows);
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

    /// Rows of other origin (clock, gaps of the session) go through here too.
    pub fn batch_mut(&mut self) -> &mut Batch {
        &mut self.batch
    }

    /// The rows finished since the last call.
    pub fn take_batch(&mut self) -> Batch {
        std::mem::take(&mut self.batch)
    }

    /// A gap, when the source was lost or silent for longer than it should be.
    fn end_silence(&mut self, source: usize, from_t_ms: i64, to_t_ms: i64) {
        let silence = &mut self.silences[source];
        let lost = silence.lost.take();
        if lost.is_none() && to_t_ms - from_t_ms <= silence.limit_ms {
            return;
        }
        self.batch.gaps.push(Gap {
            from_t_ms,
            to_t_ms,
            cause: lost.unwrap_or_else(|| SOURCE_SILENT.into()),
            what: Some(self.sources[source].name.clone()),
        });
    }

    fn note_switch(&mut self, change: SwitchChange) {
        let facts = &self.facts[usize::from(change.channel.0)];
        // The first word of a switch is recorded too: it tells that its state
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
