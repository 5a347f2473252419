//! Where readings come from. A source turns bytes into [`Item`]s and knows
//! nothing of the log they end in.

#[allow(dead_code, reason = "`seepd run` is being built on it")]
pub(crate) mod live;
pub(crate) mod replay;

use seep_common::sample::ChannelIndex;

/// Something a source said, at a time of its own clock until a timeline has
/// laid it into the common order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Item {
    /// When, ms.
    pub t_ms: i64,
    /// What.
    pub said: Said,
}

/// What a source said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Said {
    /// A reading in the channel's unit.
    Reading(ChannelIndex, f64),
    /// The source (by index) spoke, without a reading that could be used.
    Heard(u16),
    /// Something spoke on the same wire: the vehicle has power.
    #[allow(dead_code, reason = "a replay has no idle time; live sources tell it")]
    Alive,
    /// From here on wall time minus item time is this, ms.
    Clock(i64),
}
