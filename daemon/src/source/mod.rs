//! Where readings come from. A source turns bytes into [`Item`]s and knows
//! nothing of the log they end in.

pub(crate) mod live;
pub(crate) mod replay;

use seep_common::codec::decode::Outcomes;
use seep_common::sample::ChannelIndex;
use seep_common::time::BootMs;

/// A source without readings says that it is alive this often, ms.
const ALIVE_EVERY_MS: i64 = 500;

/// Something a source said, at a time of its own clock until a timeline has
/// laid it into the common order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Item {
    /// When, ms.
    pub t_ms: BootMs,
    /// What.
    pub payload: Payload,
}

/// What a source said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Payload {
    /// A reading in the channel's unit.
    Reading(ChannelIndex, f64),
    /// The source (by index) spoke, without a reading that could be used.
    Heard(u16),
    /// Something spoke on the same wire: the vehicle has power.
    Alive,
    /// From here on wall time minus item time is this, ms.
    Clock(i64),
}

/// Outcomes of all channels of a source together: the log keeps them by source.
fn summed(outcomes: impl Iterator<Item = (ChannelIndex, Outcomes)>) -> [(&'static str, u64); 12] {
    let mut sum = Outcomes::default().named();
    for (_, one) in outcomes {
        for (total, (_, n)) in sum.iter_mut().zip(one.named()) {
            total.1 += n;
        }
    }
    sum
}
