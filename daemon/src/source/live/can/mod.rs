//! Frames of a CAN bus, by SocketCAN.
//!
//! Frames can be lost in four places: in the controller, in the driver, in the
//! queue of the socket, and in a queue of the program. The first three are read
//! from the kernel every second and counted; the fourth does not exist: while
//! the recorder has no room, frames wait in the socket, whose losses are counted.

mod bus_decoder;
mod frame;
mod health;
mod interface;
mod socket;
mod stamp;
mod trouble;

#[cfg(test)]
mod tests;

use super::backoff::Backoff;
use super::context::{BEAT_EVERY, Stopped};
use super::reporter::SourceReporter;
use super::supervise::SourceFactory;
use crate::databases::Databases;
use crate::pause::{Pause, PauseDetector};
use crate::source::Item;
use bus_decoder::BusDecoder;
use frame::stamp;
pub(super) use frame::{Received, received};
use health::Health;
use interface::Interface;
use seep_common::codec::decode::CanDecoder;
use seep_common::rig::{Rig, SourceKind};
use seep_common::time::BootMs;
pub(super) use socket::Bus;
pub(crate) use socket::WAITING_ROOM;
use socket::gone;
use socketcan::{CanAnyFrame, CanTimestamps};
use stamp::Stamps;
use std::io;
use std::time::Duration;
use tokio::time::{MissedTickBehavior, interval};

/// So many frames are taken at a time.
const MOST_AT_ONCE: usize = 512;

/// Pause after the socket has been emptied: a full bus then wakes the program
/// 200 times a second instead of 8,000. The kernel stamps what arrives meanwhile.
const NAP: Duration = Duration::from_millis(5);

/// At the end at most so many batches that have already arrived are still taken.
const LAST_BATCHES: usize = 200;

/// What is needed to listen to the bus of a source.
pub(super) fn prepare(rig: &Rig, source: usize, databases: &Databases) -> SourceFactory {
    let ready = ready(rig, source, databases);
    Box::new(move |mut reporter| {
        let ready = ready.clone();
        Box::pin(async move {
            match ready {
                Ok((interface, decoder)) => Listener::new(reporter, interface, decoder).run().await,
                Err(cause) => reporter.never(cause).await,
            }
        })
    })
}

fn ready(
    rig: &Rig,
    source: usize,
    databases: &Databases,
) -> Result<(Interface, CanDecoder), String> {
    let SourceKind::SocketCan { interface, .. } = &rig.sources[source].kind else {
        return Err("not a CAN source".into());
    };
    let decoder = CanDecoder::new(rig, source, databases.of(source)).map_err(|e| e.to_string())?;
    if decoder.filters().is_empty() {
        return Err("no channel of the rig uses this source".into());
    }
    Ok((Interface::new(interface)?, decoder))
}

/// Listens to one bus, as long as recording goes on.
struct Listener {
    reporter: SourceReporter,
    interface: Interface,
    lane: BusDecoder,
    stamps: Stamps,
    pauses: PauseDetector,
    /// The pause whose frames are being taken from the socket.
    pause: Option<Pause>,
    /// Readings of that pause that nothing dates.
    undated: u64,
    health: Health,
    items: Vec<Item>,
    backoff: Backoff,
}

impl Listener {
    fn new(reporter: SourceReporter, interface: Interface, decoder: CanDecoder) -> Self {
        Listener {
            lane: BusDecoder::new(reporter.source(), decoder),
            reporter,
            interface,
            stamps: Stamps::new(),
            pauses: PauseDetector::default(),
            pause: None,
            undated: 0,
            health: Health::default(),
            items: Vec::new(),
            backoff: Backoff::new(),
        }
    }

    async fn run(mut self) -> Result<(), Stopped> {
        loop {
            let cause = match Bus::open(&self.interface.name, &self.lane.filters()) {
                Ok(bus) => {
                    self.health.opened(self.interface.look());
                    self.listen(&bus).await?
                }
                Err(cause) => match self.interface.look() {
                    Some(look) if !look.is_can => {
                        let name = &self.interface.name;
                        format!("{name} is not a CAN interface; correct `interface` in the rig")
                    }
                    _ => cause,
                },
            };
            self.reporter.lost(cause).await?;
            self.report_totals().await?;
            self.reporter.sleep(self.backoff.next()).await?;
        }
    }

    /// Listen until the interface is gone; why it ended.
    async fn listen(&mut self, bus: &Bus) -> Result<String, Stopped> {
        let mut beat = interval(BEAT_EVERY);
        beat.set_missed_tick_behavior(MissedTickBehavior::Delay);
        loop {
            let ended = tokio::select! {
                biased;
                () = self.reporter.stopped() => return self.end(bus).await,
                _ = beat.tick() => self.look(bus).await?,
                ready = bus.ready() => match ready {
                    Ok(()) => self.batch(bus).await?.ended(),
                    Err(e) => Some(self.failed(&e)),
                },
            };
            if let Some(cause) = ended {
                return Ok(cause);
            }
            if self.reporter.sleep(NAP).await.is_err() {
                return self.end(bus).await;
            }
        }
    }

    /// Once a second: the interface, the counts, and what is to be said of them.
    async fn look(&mut self, bus: &Bus) -> Result<Option<String>, Stopped> {
        self.reporter.beat();
        // A link that went down may tell it to a read only.
        if let Batch::Ended(cause) = self.batch(bus).await? {
            return Ok(Some(cause));
        }
        let look = self.interface.look();
        let t_ms = self.reporter.now_ms();
        self.health.dropped(bus.drops());
        if let Some(state) = self.interface.bus_state() {
            self.health.told(state);
        }
        if let Some(look) = look
            && self.health.look(t_ms, look)
        {
            self.lane.alive(t_ms, &mut self.items);
            self.reporter.items(&mut self.items).await?;
        }
        self.report_totals().await?;
        if !self.health.is_same(look) {
            return Ok(Some(gone(&self.interface.name)));
        }
        if let Some(text) = self.health.news() {
            self.reporter.note(t_ms, text).await?;
        }
        match self.health.cause(&self.interface.name, look) {
            Some(cause) => self.reporter.lost(cause).await?,
            None => {
                self.backoff = Backoff::new();
                self.reporter.back(t_ms).await?;
            }
        }
        Ok(None)
    }

    /// Take what waits in the socket, and hand it on.
    async fn batch(&mut self, bus: &Bus) -> Result<Batch, Stopped> {
        self.look_for_pause();
        let mut heard_ms = None;
        let mut batch = Batch::Full;
        for _ in 0..MOST_AT_ONCE {
            match bus.next() {
                Ok((frame, stamps)) => {
                    heard_ms = heard_ms.or(self.take(frame, &stamps));
                }
                Err(e) if e.kind() == io::ErrorKind::WouldBlock => {
                    batch = Batch::Empty;
                    break;
                }
                Err(e) => {
                    if let Some(cause) = self.trouble(&e) {
                        batch = Batch::Ended(cause);
                        break;
                    }
                }
            }
        }
        if let Some(t_ms) = heard_ms {
            self.reporter.back(t_ms).await?;
        }
        if let Some(pause) = self.pause
            && !matches!(batch, Batch::Full)
        {
            self.pause = None;
            self.stamps.paused(0);
            if std::mem::take(&mut self.undated) > 0 {
                self.reporter.paused(pause).await?;
            }
        }
        self.reporter.items(&mut self.items).await?;
        Ok(batch)
    }

    /// After a pause the socket holds frames of it until it is empty.
    fn look_for_pause(&mut self) {
        if let Some(pause) = self.pauses.round(self.reporter.now_ms()) {
            self.stamps.paused(pause.to_ms.since(pause.from_ms));
            self.pause = Some(pause);
        }
    }

    /// Take one frame; when it arrived, if it came from the bus.
    fn take(&mut self, frame: CanAnyFrame, stamps: &CanTimestamps) -> Option<BootMs> {
        // The clocks are looked at after the frame has come: its stamp is never
        // ahead of them, except by a step of the wall clock.
        let offset_ms = self.reporter.wall_offset_ms();
        self.stamps.look(self.reporter.now_ms(), offset_ms);
        let stamp = stamp(stamps);
        let undated = self.pause.is_some() && !self.stamps.dates(stamp);
        let t_ms = self.stamps.place(stamp);
        match received(frame) {
            Ok(Received::Frame(frame)) if undated => {
                self.health.heard();
                self.undated += self.lane.take_undated(&frame, t_ms);
                None
            }
            Ok(Received::Frame(frame)) => {
                self.health.heard();
                self.lane.take(&frame, t_ms, &mut self.items);
                Some(t_ms)
            }
            Ok(Received::Report(report)) => {
                self.health.reported(&report);
                None
            }
            Err(_) => {
                self.health.odd_frames += 1;
                None
            }
        }
    }

    /// An error of the socket; a cause when the socket is of no more use.
    fn trouble(&mut self, error: &io::Error) -> Option<String> {
        match (error.raw_os_error(), error.kind()) {
            // The socket stays bound, and hears again when the link is up.
            (Some(libc::ENETDOWN), _) => None,
            (_, io::ErrorKind::Interrupted) => None,
            // Not a frame of any kind known here.
            (_, io::ErrorKind::InvalidData) => {
                self.health.odd_frames += 1;
                None
            }
            _ => Some(self.failed(error)),
        }
    }

    fn failed(&self, error: &io::Error) -> String {
        let name = &self.interface.name;
        match error.raw_os_error() {
            Some(libc::ENODEV | libc::ENXIO) => gone(name),
            _ => format!("{name} cannot be read: {error}"),
        }
    }

    /// Recording ends: what has already arrived is still taken.
    async fn end(&mut self, bus: &Bus) -> Result<String, Stopped> {
        for _ in 0..LAST_BATCHES {
            if !matches!(self.batch(bus).await?, Batch::Full) {
                break;
            }
        }
        self.health.dropped(bus.drops());
        self.report_totals().await?;
        Err(Stopped)
    }

    async fn report_totals(&mut self) -> Result<(), Stopped> {
        let without = [("frames_without_stamp", self.stamps.without)];
        let totals = (self.lane.named())
            .chain(self.health.named())
            .chain(without);
        self.reporter.totals(totals).await
    }
}

/// What came of emptying the socket.
enum Batch {
    /// Nothing is left.
    Empty,
    /// There may be more.
    Full,
    /// The socket is of no more use.
    Ended(String),
}

impl Batch {
    fn ended(self) -> Option<String> {
        match self {
            Batch::Ended(cause) => Some(cause),
            Batch::Empty | Batch::Full => None,
        }
    }
}
