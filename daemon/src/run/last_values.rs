//! The last values of every channel and source.

use super::status::{ChannelStatus, SourceStatus};
use seep_common::rig::Rig;
use seep_common::sample::ChannelIndex;
use seep_common::time::BootMs;

/// Rates are told over about this long, ms.
const RATE_OVER_MS: f64 = 10_000.0;

/// What arrived last.
#[derive(Debug, Clone)]
pub(crate) struct LastValues {
    begun_ms: BootMs,
    channels: Vec<LastReading>,
    sources: Vec<LastEvent>,
}

#[derive(Debug, Clone, Default)]
struct LastReading {
    last: Option<(BootMs, f64)>,
    readings: u64,
    /// Mean interval between readings, ms.
    interval_ms: Option<f64>,
}

#[derive(Debug, Clone, Default)]
struct LastEvent {
    heard_ms: Option<BootMs>,
    lost: Option<String>,
    sender_text: Option<String>,
    unknown: Vec<String>,
}

impl LastValues {
    /// Nothing arrived yet; the session began at this boot time, ms.
    pub(crate) fn new(rig: &Rig, begun_ms: BootMs) -> Self {
        LastValues {
            begun_ms,
            channels: vec![LastReading::default(); rig.channels.len()],
            sources: vec![LastEvent::default(); rig.sources.len()],
        }
    }

    /// A reading arrived.
    pub(crate) fn reading(&mut self, channel: ChannelIndex, t_ms: BootMs, value: f64) {
        let Some(c) = self.channels.get_mut(usize::from(channel.0)) else {
            return;
        };
        if let Some((before_ms, _)) = c.last {
            let step_ms = t_ms.since(before_ms).max(0) as f64;
            let weight = (step_ms / RATE_OVER_MS).clamp(0.01, 1.0);
            let mean = c.interval_ms.unwrap_or(step_ms);
            c.interval_ms = Some(mean + weight * (step_ms - mean));
        }
        c.readings += 1;
        c.last = Some((t_ms, value));
    }

    /// A source spoke.
    pub(crate) fn heard(&mut self, source: usize, t_ms: BootMs) {
        if let Some(s) = self.sources.get_mut(source) {
            s.heard_ms = Some(t_ms);
        }
    }

    /// A source cannot be read.
    pub(crate) fn lost(&mut self, source: usize, cause: &str) {
        if let Some(s) = self.sources.get_mut(source) {
            s.lost = Some(cause.into());
        }
    }

    /// A source can be read again.
    pub(crate) fn back(&mut self, source: usize) {
        if let Some(s) = self.sources.get_mut(source) {
            s.lost = None;
        }
    }

    /// A sender gave its name, version or another text.
    pub(crate) fn sender_text(&mut self, source: usize, text: String) {
        if let Some(s) = self.sources.get_mut(source) {
            s.sender_text = Some(text);
        }
    }

    /// Transducers of a source that feed no channel.
    pub(crate) fn unknown(&mut self, source: usize, names: Vec<String>) {
        if let Some(s) = self.sources.get_mut(source) {
            s.unknown = names;
        }
    }

    /// Channels for the status; `asleep` says it of a source.
    pub(crate) fn channels(
        &self,
        rig: &Rig,
        now_ms: BootMs,
        asleep: &dyn Fn(usize) -> bool,
    ) -> Vec<ChannelStatus> {
        let of = |(c, l): (&seep_common::rig::Channel, &LastReading)| {
            let age_ms = l.last.map(|(t_ms, _)| now_ms.since(t_ms).max(0));
            let source = &rig.sources[c.source];
            let waited_ms = age_ms.unwrap_or(now_ms.since(self.begun_ms)) as f64;
            ChannelStatus {
                name: c.name.clone(),
                unit: c.quantity.unit().into(),
                source: source.name.clone(),
                value: l.last.map(|(_, value)| value),
                age_s: age_ms.map(|ms| ms as f64 / 1000.0),
                readings: l.readings,
                rate_hz: l.interval_ms.filter(|ms| *ms > 0.0).map(|ms| 1000.0 / ms),
                silent: waited_ms > source.silence_s * 1000.0 && !asleep(c.source),
            }
        };
        rig.channels.iter().zip(&self.channels).map(of).collect()
    }

    /// Sources for the status; `asleep` says it of a source.
    pub(crate) fn sources(
        &self,
        rig: &Rig,
        now_ms: BootMs,
        asleep: &dyn Fn(usize) -> bool,
    ) -> Vec<SourceStatus> {
        let newest_of = |i: usize| {
            let channels = rig.channels.iter().zip(&self.channels);
            let readings = channels.filter(|(c, _)| c.source == i);
            let last = readings.filter_map(|(_, l)| l.last.map(|(t_ms, _)| t_ms));
            last.chain(self.sources[i].heard_ms).max()
        };
        let of = |(i, s): (usize, &seep_common::rig::Source)| SourceStatus {
            name: s.name.clone(),
            kind: s.kind.word().into(),
            asleep: asleep(i),
            lost: self.sources[i].lost.clone(),
            sender_text: self.sources[i].sender_text.clone(),
            unknown: self.sources[i].unknown.clone(),
            heard_s_ago: newest_of(i).map(|t_ms| now_ms.since(t_ms).max(0) as f64 / 1000.0),
        };
        rig.sources.iter().enumerate().map(of).collect()
    }
}
