//! One decoded reading on its way from a source to a tick.

/// Position of a channel in [`crate::rig::Rig::channels`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ChannelIndex(pub u16);

/// A reading in the channel's unit at a log time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Which channel spoke.
    pub channel: ChannelIndex,
    /// Log time, ms.
    pub t_ms: i64,
    /// The value, in the unit of the channel's quantity.
    pub value: f64,
}
