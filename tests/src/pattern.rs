//! Readings whose value follows from their time, so that a log can be checked
//! for content and not only for number. Invented.

use seep_common::rig::Rig;
use seep_common::store::{Batch, Counter, Event, EventKind};
use seep_common::tick::Tick;
use seep_common::time::LogMs;

/// Time between two ticks, ms.
pub const STEP_MS: i64 = 100;

/// Ticks of one commit: 2 s, as the recorder does it.
pub const PER_COMMIT: i64 = 20;

/// The channels of the first rig; the second has one more.
pub const CHANNELS: [&str; 4] = [
    "tank_kpa_gauge",
    "front_left_kpa_gauge",
    "front_right_kpa_gauge",
    "ambient_c",
];

/// A rig with the first so many of the channels.
///
/// # Panics
/// Never: the text is fixed.
#[must_use]
pub fn rig(channels: usize) -> Rig {
    let mut text = String::from(
        "[vehicle]\nname = \"invented\"\n[[circuit]]\nname = \"front_left\"\n\
         [[circuit]]\nname = \"front_right\"\n[[source]]\nname = \"box\"\nkind = \"nmea\"\n",
    );
    for (i, name) in CHANNELS.iter().take(channels).enumerate() {
        text +=
            &format!("[[channel]]\nname = \"{name}\"\nsource = \"box\"\ntransducer = \"T{i}\"\n");
    }
    Rig::parse(&text).expect("a valid rig")
}

/// The count stored for a channel at a log time: small, and nowhere constant.
#[must_use]
pub fn count(t_ms: i64, channel: usize) -> i64 {
    (t_ms / STEP_MS * (7 + 2 * channel as i64)) % 997
}

/// One commit from this log time on.
#[must_use]
pub fn commit(from_t_ms: i64, channels: usize) -> Batch {
    let tick = |i: i64| {
        let t_ms = from_t_ms + i * STEP_MS;
        Tick {
            t_ms,
            counts: (0..channels).map(|c| Some(count(t_ms, c))).collect(),
        }
    };
    let mut batch = Batch {
        ticks: (0..PER_COMMIT).map(tick).collect(),
        ..Batch::default()
    };
    batch.counters.push(Counter {
        t_ms: from_t_ms,
        name: "ticks".into(),
        source: "box".into(),
        count: PER_COMMIT,
    });
    batch.events.push(Event {
        t_ms: from_t_ms,
        kind: EventKind::Run,
        place: "compressor_1".into(),
        on: from_t_ms / 2_000 % 2 == 0,
        wired: true,
    });
    batch.laid(LogMs)
}
