//! Valve and compressor changes seen in the pressures, where no wire tells them.
//!
//! A circuit whose pressure climbs is being filled, one that falls fast is being
//! dumped; a tank that climbs while no circuit falls into it has a compressor
//! running. Such events are stored as *inferred*. They miss short corrections
//! that drown in road noise, and their times are as good as the readings are
//! dense; a wired channel is always better and always preferred.

mod line;
mod ramp;

use ramp::{Limits, Ramp, Turn};
use seep_common::channel::Quantity;
use seep_common::rig::Rig;
use seep_common::sample::ChannelIndex;
use seep_common::store::{Event, EventKind};
use seep_common::time::BootMs;

/// A circuit: valves move it by tens of kPa in seconds; passengers and bends by
/// less than this. Common practice, no source.
const CIRCUIT: Limits = Limits {
    least_rise_kpa: 10.0,
    least_slope_kpa_s: 1.5,
};

/// A tank: a small compressor on a large tank still makes a few tenths of a
/// kPa a second; warming by sun makes a hundred times less. Common practice, no
/// source.
const TANK: Limits = Limits {
    least_rise_kpa: 6.0,
    least_slope_kpa_s: 0.25,
};

/// Watches the pressures of places without wired switches.
#[derive(Debug)]
pub(super) struct Infer {
    /// By channel: what to watch.
    watched: Vec<Option<Watched>>,
}

#[derive(Debug)]
struct Watched {
    ramp: Ramp,
    /// Place and kind that a rise means.
    up: Option<(String, EventKind)>,
    /// Place and kind that a fall means.
    down: Option<(String, EventKind)>,
    spoken: bool,
}

impl Infer {
    /// For the switches that the rig has no channel for.
    pub(super) fn new(rig: &Rig) -> Self {
        let watched = rig.channels.iter().map(|channel| {
            let pressure = matches!(
                channel.quantity,
                Quantity::GaugePressure | Quantity::AbsolutePressure
            );
            if !pressure {
                return None;
            }
            if channel.place == "tank" {
                return tank(rig);
            }
            rig.circuit(&channel.place)?;
            let unwired = |quantity, kind| {
                let wired = rig.channel_at(&channel.place, quantity).is_some();
                (!wired).then(|| (channel.place.clone(), kind))
            };
            let up = unwired(Quantity::FillValve, EventKind::Fill);
            let down = unwired(Quantity::DumpValve, EventKind::Dump);
            Watched::unless_wired(CIRCUIT, up, down)
        });
        Infer {
            watched: watched.collect(),
        }
    }

    /// A reading of a channel, kPa, at a log time, ms; events go to `out`.
    #[inline]
    pub(super) fn push(
        &mut self,
        channel: ChannelIndex,
        t_ms: BootMs,
        kpa: f64,
        out: &mut Vec<Event<BootMs>>,
    ) {
        let Some(Some(watched)) = self.watched.get_mut(usize::from(channel.0)) else {
            return;
        };
        if !watched.spoken {
            watched.spoken = true;
            // From here on the state is known: nothing moves.
            watched.say_closed(t_ms, out);
        }
        for turn in watched.ramp.push(t_ms, kpa) {
            watched.say_turn(turn, out);
        }
    }

    /// The session ends, or the readings stop: what was open is closed.
    pub(super) fn finish(&mut self, out: &mut Vec<Event<BootMs>>) {
        for watched in self.watched.iter_mut().flatten() {
            if let Some(turn) = watched.ramp.finish() {
                watched.say_turn(turn, out);
            }
            watched.spoken = false;
        }
    }
}

/// The only compressor of a rig without a channel for it; which of two runs
/// cannot be told from the tank.
fn tank(rig: &Rig) -> Option<Watched> {
    let [compressor] = rig.compressors.as_slice() else {
        return None;
    };
    let wired = rig
        .channel_at(&compressor.name, Quantity::Running)
        .is_some();
    let up = (!wired).then(|| (compressor.name.clone(), EventKind::Run));
    Watched::unless_wired(TANK, up, None)
}

impl Watched {
    fn unless_wired(
        limits: Limits,
        up: Option<(String, EventKind)>,
        down: Option<(String, EventKind)>,
    ) -> Option<Self> {
        (up.is_some() || down.is_some()).then(|| Watched {
            ramp: Ramp::new(limits),
            up,
            down,
            spoken: false,
        })
    }

    fn say_closed(&self, t_ms: BootMs, out: &mut Vec<Event<BootMs>>) {
        for (place, kind) in self.up.iter().chain(&self.down) {
            out.push(event(t_ms, *kind, place, false));
        }
    }

    fn say_turn(&self, turn: Turn, out: &mut Vec<Event<BootMs>>) {
        let what = if turn.upward { &self.up } else { &self.down };
        if let Some((place, kind)) = what {
            out.push(event(turn.t_ms, *kind, place, turn.on));
        }
    }
}

fn event(t_ms: BootMs, kind: EventKind, place: &str, on: bool) -> Event<BootMs> {
    Event {
        t_ms,
        kind,
        place: place.into(),
        on,
        wired: false,
    }
}
