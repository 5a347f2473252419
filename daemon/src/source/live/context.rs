//! What a source is given: the clock, the channel of its events, the stop signal.

use super::SourceEvent;
use crate::clock::Clock;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;
use tokio::sync::{mpsc, watch};

/// A source that waits shows at least this often that it is alive.
pub(super) const BEAT_EVERY: Duration = Duration::from_secs(1);

/// Once stopped, a source waits no longer than this for room for its last events.
const LAST_WORDS: Duration = Duration::from_secs(2);

/// Progress of each source: a number that goes up at least about once a second
/// while its task is alive, whether or not anything arrives. The watchdog looks
/// at it; a number that stands still for many seconds is a stuck task.
#[derive(Debug, Clone)]
pub(crate) struct Heartbeat(Arc<[AtomicU64]>);

impl Heartbeat {
    /// For so many sources.
    pub(crate) fn new(sources: usize) -> Self {
        Heartbeat((0..sources).map(|_| AtomicU64::new(0)).collect())
    }

    /// A source has made progress.
    pub(crate) fn up(&self, source: usize) {
        if let Some(count) = self.0.get(source) {
            count.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// Progress of a source so far.
    pub(crate) fn of(&self, source: usize) -> u64 {
        self.0
            .get(source)
            .map_or(0, |count| count.load(Ordering::Relaxed))
    }
}

/// What a source holds on to; cloned for each.
#[derive(Clone)]
pub(crate) struct SourceContext {
    /// Where the events go. Bounded: a source waits for room, and meanwhile the
    /// kernel keeps what arrives, or drops it and counts.
    pub events: mpsc::Sender<SourceEvent>,
    /// Turns true when recording ends.
    pub stop: watch::Receiver<bool>,
    /// The clocks.
    pub clock: Arc<dyn Clock>,
    /// Progress for the watchdog.
    pub beat: Heartbeat,
}

/// Recording ends, or nobody listens any more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stopped;

impl SourceContext {
    /// Say something; waits for room as long as recording goes on, and after
    /// that for [`LAST_WORDS`].
    pub(super) async fn send(&self, source: usize, event: SourceEvent) -> Result<(), Stopped> {
        let mut stop = self.stop.clone();
        let room = self.events.reserve();
        tokio::pin!(room);
        loop {
            tokio::select! {
                biased;
                permit = &mut room => {
                    self.beat.up(source);
                    permit.map_err(|_| Stopped)?.send(event);
                    return Ok(());
                }
                () = stopped(&mut stop) => break,
                () = tokio::time::sleep(BEAT_EVERY) => self.beat.up(source),
            }
        }
        match tokio::time::timeout(LAST_WORDS, room).await {
            Ok(Ok(permit)) => {
                permit.send(event);
                Ok(())
            }
            _ => Err(Stopped),
        }
    }

    /// Let time pass, showing that the task is alive.
    pub(super) async fn sleep(&self, source: usize, time: Duration) -> Result<(), Stopped> {
        let mut stop = self.stop.clone();
        let end = tokio::time::Instant::now() + time;
        loop {
            self.beat.up(source);
            let now = tokio::time::Instant::now();
            if now >= end {
                return Ok(());
            }
            tokio::select! {
                biased;
                () = stopped(&mut stop) => return Err(Stopped),
                () = tokio::time::sleep(BEAT_EVERY.min(end - now)) => {}
            }
        }
    }
}

/// Waits until recording ends.
pub(super) async fn stopped(stop: &mut watch::Receiver<bool>) {
    // An error means that the supervisor is gone, which ends recording too.
    let _ = stop.wait_for(|&stop| stop).await;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::VirtualClock;
    use seep_common::time::{BootMs, WallMs};

    fn context(
        room: usize,
    ) -> (
        SourceContext,
        mpsc::Receiver<SourceEvent>,
        watch::Sender<bool>,
    ) {
        let (events, heard) = mpsc::channel(room);
        let (stopper, stop) = watch::channel(false);
        let clock = Arc::new(VirtualClock::at(BootMs(0), WallMs(0)));
        let beat = Heartbeat::new(1);
        (
            SourceContext {
                events,
                stop,
                clock,
                beat,
            },
            heard,
            stopper,
        )
    }

    #[tokio::test(start_paused = true)]
    async fn a_source_that_waits_for_room_stays_alive_and_loses_nothing() {
        let (context, mut heard, _stopper) = context(1);
        let back = |t_ms| SourceEvent::Back { source: 0, t_ms };
        context.send(0, back(BootMs(1))).await.expect("room");
        let before = context.beat.of(0);
        let waiting = tokio::spawn({
            let context = context.clone();
            async move {
                context
                    .send(
                        0,
                        SourceEvent::Back {
                            source: 0,
                            t_ms: BootMs(2),
                        },
                    )
                    .await
            }
        });
        tokio::time::sleep(Duration::from_millis(3_500)).await;
        assert_eq!(context.beat.of(0), before + 3);
        assert_eq!(heard.recv().await, Some(back(BootMs(1))));
        assert_eq!(heard.recv().await, Some(back(BootMs(2))));
        waiting.await.expect("no panic").expect("said");
    }

    #[tokio::test(start_paused = true)]
    async fn last_words_are_said_when_there_is_room_and_given_up_when_not() {
        let (context, mut heard, stopper) = context(1);
        stopper.send(true).expect("a listener");
        let event = SourceEvent::Back {
            source: 0,
            t_ms: BootMs(1),
        };
        assert_eq!(context.send(0, event.clone()).await, Ok(()));
        assert_eq!(context.send(0, event.clone()).await, Err(Stopped));
        assert_eq!(heard.recv().await, Some(event));
        assert_eq!(context.sleep(0, Duration::from_secs(9)).await, Err(Stopped));
    }
}
