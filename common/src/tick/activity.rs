//! When something happens: switches that change, pressures that move, a car that drives.

use crate::channel::Quantity;
use crate::rig::Channel;
use crate::sample::{ChannelIndex, Sample};
use crate::time::BootMs;

/// A switch channel changed, or spoke for the first time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SwitchChange {
    /// Which channel.
    pub channel: ChannelIndex,
    /// When.
    pub t_ms: BootMs,
    /// State after the change.
    pub on: bool,
    /// False for the first word of a channel: the state was unknown before.
    pub is_change: bool,
}

/// A speed above this is driving, km/h. Wheel-speed sensors read a little
/// above zero at standstill; common practice, no source.
pub const DRIVING_KMH: f64 = 2.0;

/// Driving is remembered this long after the last moving speed, ms.
const DRIVING_HOLD_MS: i64 = 5_000;

/// A pressure this far from its recent mean is moving, kPa. Above the noise of
/// ordinary sensors, below any valve event; a trigger for the recording rate
/// only, never for a conclusion.
const MOVING_KPA: f64 = 4.0;

/// Time constant of that recent mean, ms.
const MEAN_MS: f64 = 2_000.0;

/// Watches samples for anything that deserves the full recording rate.
#[derive(Debug, Clone)]
pub struct Activity {
    channels: Vec<Watched>,
    last_moving_ms: Option<BootMs>,
    last_active_ms: Option<BootMs>,
}

#[derive(Debug, Clone)]
struct Watched {
    quantity: Quantity,
    /// State of a switch.
    on: Option<bool>,
    /// Recent mean of a pressure, and when it was last brought up to date.
    mean: Option<(BootMs, f64)>,
}

impl Activity {
    /// Watch the channels of a rig.
    #[must_use]
    pub fn new(channels: &[Channel]) -> Self {
        Activity {
            channels: (channels.iter())
                .map(|c| Watched {
                    quantity: c.quantity,
                    on: None,
                    mean: None,
                })
                .collect(),
            last_moving_ms: None,
            last_active_ms: None,
        }
    }

    /// Look at a sample; says when a switch changed.
    #[inline]
    pub fn watch(&mut self, sample: Sample) -> Option<SwitchChange> {
        let i = usize::from(sample.channel.0);
        match self.channels[i].quantity {
            Quantity::FillValve | Quantity::DumpValve | Quantity::Running => {
                self.watch_switch(i, sample)
            }
            Quantity::Speed => {
                if sample.value > DRIVING_KMH {
                    self.last_moving_ms = Some(sample.t_ms);
                }
                None
            }
            Quantity::GaugePressure | Quantity::AbsolutePressure => {
                self.watch_pressure(i, sample);
                None
            }
            _ => None,
        }
    }

    fn watch_switch(&mut self, i: usize, sample: Sample) -> Option<SwitchChange> {
        let on = sample.value > 0.5;
        let before = self.channels[i].on.replace(on);
        if before == Some(on) {
            // A valve held open or a compressor that runs is activity throughout.
            if on {
                self.last_active_ms = Some(sample.t_ms);
            }
            return None;
        }
        if before.is_some() || on {
            self.last_active_ms = Some(sample.t_ms);
        }
        Some(SwitchChange {
            channel: sample.channel,
            t_ms: sample.t_ms,
            on,
            is_change: before.is_some(),
        })
    }

    #[inline]
    fn watch_pressure(&mut self, i: usize, sample: Sample) {
        let known = &mut self.channels[i].mean;
        let Some((t_ms, mean)) = *known else {
            *known = Some((sample.t_ms, sample.value));
            return;
        };
        let dt_ms = sample.t_ms.since(t_ms).max(0) as f64;
        let weight = dt_ms / (dt_ms + MEAN_MS);
        *known = Some((sample.t_ms, mean + weight * (sample.value - mean)));
        // Road noise moves pressures all the time; while driving the rate is high enough.
        if (sample.value - mean).abs() > MOVING_KPA && !self.driving(sample.t_ms) {
            self.last_active_ms = Some(sample.t_ms);
        }
    }

    /// True while the vehicle moves, or moved a moment ago.
    #[must_use]
    pub fn driving(&self, t_ms: BootMs) -> bool {
        self.last_moving_ms
            .is_some_and(|moving| t_ms.since(moving) <= DRIVING_HOLD_MS)
    }

    /// When the latest activity was.
    #[must_use]
    #[inline]
    pub fn last_active_ms(&self) -> Option<BootMs> {
        self.last_active_ms
    }

    /// When the vehicle was last seen to move.
    #[must_use]
    pub fn last_moving_ms(&self) -> Option<BootMs> {
        self.last_moving_ms
    }

    /// Forget switch states and means, as at a new session.
    pub fn forget(&mut self) {
        for channel in &mut self.channels {
            (channel.on, channel.mean) = (None, None);
        }
        self.last_moving_ms = None;
        self.last_active_ms = None;
    }
}
