//! A channel as the goal of a reading.

use super::outcome::Outcomes;
use crate::rig::{Calibration, Channel, InputUnit, Rig};
use crate::sample::{ChannelIndex, Sample};
use crate::time::BootMs;

/// One channel, what is still to be done to a reading for it, and its counts.
#[derive(Debug, Clone)]
pub(super) struct Target {
    pub(super) index: ChannelIndex,
    pub(super) channel: Channel,
    pub(super) outcomes: Outcomes,
}

impl Target {
    /// Every channel of a source.
    pub(super) fn of_source(rig: &Rig, source: usize) -> Vec<Target> {
        rig.channels
            .iter()
            .enumerate()
            .filter(|(_, channel)| channel.source == source)
            .filter_map(|(index, channel)| {
                Some(Target {
                    index: ChannelIndex(u16::try_from(index).ok()?),
                    channel: channel.clone(),
                    outcomes: Outcomes::default(),
                })
            })
            .collect()
    }

    /// True when the unit of the source does not matter: a switch, a unit named
    /// by the rig, or a calibration, which gives the value in the channel's unit
    /// when the source's unit is of another kind (volts to kPa).
    pub(super) fn needs_no_source_unit(&self) -> bool {
        self.channel.quantity.is_switch()
            || self.channel.unit.is_some()
            || self.channel.calibration != Calibration::default()
    }

    /// Calibrate, convert, check and pass on one raw reading.
    #[inline]
    pub(super) fn put(
        &mut self,
        raw: f64,
        unit: Option<InputUnit>,
        t_ms: BootMs,
        sink: &mut impl FnMut(Sample),
    ) {
        let value = self.channel.value_of(raw, unit);
        if !value.is_finite() {
            self.outcomes.not_finite += 1;
        } else if !self.channel.accepts(value) {
            self.outcomes.out_of_range += 1;
        } else {
            self.outcomes.passed += 1;
            sink(Sample {
                channel: self.index,
                t_ms,
                value,
            });
        }
    }
}
