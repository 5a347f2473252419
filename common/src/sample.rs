//! One decoded reading on its way from a source to a tick.

use crate::time::BootMs;

/// Position of a channel in [`crate::rig::Rig::channels`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ChannelIndex(pub u16);

/// A reading in the channel's unit at the time that its source dates it with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Which channel spoke.
    pub channel: ChannelIndex,
    /// When.
    pub t_ms: BootMs,
    /// The value, in the unit of the channel's quantity.
    pub value: f64,
}
