//! Reports of one source: none twice in a row, and its totals never go back.

use super::SourceEvent;
use super::context::{BEAT_EVERY, SourceContext, Stopped};
use crate::pause::Pause;
use crate::source::Item;
use seep_common::time::BootMs;
use std::collections::BTreeMap;
use std::future::Future;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// Between two looks at two clocks the task may be put aside for long; then it
/// looks again, so often at most.
const LOOKS_AT_CLOCKS: usize = 5;

/// Totals of a source, kept while its task is started anew after a fault.
pub(super) type KeptTotals = Arc<Mutex<BTreeMap<&'static str, u64>>>;

/// Reports the events of one source.
pub(super) struct SourceReporter {
    context: SourceContext,
    source: usize,
    /// Cause, while the source cannot be read.
    lost: Option<String>,
    /// Totals of tasks before this one.
    base: BTreeMap<&'static str, u64>,
    kept_totals: KeptTotals,
}

impl SourceReporter {
    pub(super) fn new(context: SourceContext, source: usize, kept_totals: KeptTotals) -> Self {
        let base = kept_totals
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone();
        SourceReporter {
            context,
            source,
            lost: None,
            base,
            kept_totals,
        }
    }

    /// Index of the source in the rig.
    pub(super) fn source(&self) -> usize {
        self.source
    }

    /// Now, CLOCK_BOOTTIME in ms.
    pub(super) fn now_ms(&self) -> BootMs {
        self.context.clock.boot_ms()
    }

    /// Wall time minus boot time, ms: of a few looks the one least disturbed.
    pub(super) fn wall_offset_ms(&self) -> i64 {
        let clock = &self.context.clock;
        let mut best = (i64::MAX, 0);
        for _ in 0..LOOKS_AT_CLOCKS {
            let before_ms = clock.boot_ms();
            let wall_ms = clock.wall_ms();
            let took_ms = clock.boot_ms().since(before_ms);
            best = best.min((took_ms, wall_ms.minus_boot(before_ms) - took_ms / 2));
            if took_ms <= 1 {
                break;
            }
        }
        best.1
    }

    /// Show that the task is alive.
    pub(super) fn beat(&self) {
        self.context.beat.up(self.source);
    }

    /// Waits until recording ends.
    pub(super) async fn stopped(&self) {
        super::context::stopped(&mut self.context.stop.clone()).await;
    }

    /// Let time pass, showing that the task is alive.
    pub(super) async fn sleep(&self, time: Duration) -> Result<(), Stopped> {
        self.context.sleep(self.source, time).await
    }

    /// Do something that may take long, showing that the task is alive.
    pub(super) async fn during<T>(&self, work: impl Future<Output = T>) -> Result<T, Stopped> {
        tokio::pin!(work);
        loop {
            tokio::select! {
                biased;
                () = self.stopped() => return Err(Stopped),
                done = &mut work => return Ok(done),
                () = tokio::time::sleep(BEAT_EVERY) => self.beat(),
            }
        }
    }

    /// Sends items; nothing when there are none.
    pub(super) async fn items(&mut self, items: &mut Vec<Item>) -> Result<(), Stopped> {
        if items.is_empty() {
            return Ok(());
        }
        let event = SourceEvent::Items(std::mem::take(items));
        self.context.send(self.source, event).await
    }

    /// The source cannot be read, since now.
    pub(super) async fn lost(&mut self, cause: String) -> Result<(), Stopped> {
        if self.lost.as_ref() == Some(&cause) {
            return Ok(());
        }
        let event = SourceEvent::Lost {
            source: self.source,
            t_ms: self.now_ms(),
            cause: cause.clone(),
        };
        self.lost = Some(cause);
        self.context.send(self.source, event).await
    }

    /// The source will not be read in this recording at all.
    pub(super) async fn never(&mut self, cause: String) -> Result<(), Stopped> {
        self.lost(cause).await?;
        loop {
            self.sleep(Duration::from_secs(60)).await?;
        }
    }

    /// It can be read, since `t_ms`.
    pub(super) async fn back(&mut self, t_ms: BootMs) -> Result<(), Stopped> {
        if self.lost.take().is_none() {
            return Ok(());
        }
        let source = self.source;
        self.context
            .send(source, SourceEvent::Back { source, t_ms })
            .await
    }

    /// What arrived during a pause could not be dated and was dropped.
    pub(super) async fn paused(&mut self, pause: Pause) -> Result<(), Stopped> {
        let source = self.source;
        self.context
            .send(source, SourceEvent::Paused { source, pause })
            .await
    }

    /// Something worth a line of its own.
    pub(super) async fn note(&mut self, t_ms: BootMs, text: String) -> Result<(), Stopped> {
        let source = self.source;
        let event = SourceEvent::Note { source, t_ms, text };
        self.context.send(source, event).await
    }

    /// A text sentence of the sender.
    pub(super) async fn sender_text(&mut self, t_ms: BootMs, text: String) -> Result<(), Stopped> {
        let source = self.source;
        let event = SourceEvent::SenderText { source, t_ms, text };
        self.context.send(source, event).await
    }

    /// Transducers that feed no channel.
    pub(super) async fn unknown(
        &mut self,
        t_ms: BootMs,
        names: Vec<String>,
    ) -> Result<(), Stopped> {
        let source = self.source;
        let event = SourceEvent::Unknown {
            source,
            t_ms,
            names,
        };
        self.context.send(source, event).await
    }

    /// Totals of this task so far; only those that have changed are said.
    pub(super) async fn totals(
        &mut self,
        totals: impl IntoIterator<Item = (&'static str, u64)>,
    ) -> Result<(), Stopped> {
        let mut changed = Vec::new();
        {
            let mut reported = self
                .kept_totals
                .lock()
                .unwrap_or_else(PoisonError::into_inner);
            for (name, of_task) in totals {
                let total = self.base.get(name).copied().unwrap_or(0) + of_task;
                let known = reported.entry(name).or_default();
                if total > *known {
                    *known = total;
                    changed.push((name, total));
                }
            }
        }
        if changed.is_empty() {
            return Ok(());
        }
        let source = self.source;
        let totals = changed;
        self.context
            .send(source, SourceEvent::Counters { source, totals })
            .await
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::live::testing::test_context;

    #[tokio::test]
    async fn nothing_is_said_twice_and_totals_go_on_after_a_fault() {
        let (context, mut receiver) = test_context();
        let kept_totals = KeptTotals::default();
        let mut reporter = SourceReporter::new(context.clone(), 0, kept_totals.clone());
        reporter.back(BootMs(1)).await.expect("heard");
        reporter.lost("unplugged".into()).await.expect("heard");
        reporter.lost("unplugged".into()).await.expect("heard");
        reporter.back(BootMs(2)).await.expect("heard");
        reporter.back(BootMs(3)).await.expect("heard");
        reporter
            .totals([("frames", 7), ("odd", 0)])
            .await
            .expect("heard");
        reporter
            .totals([("frames", 7), ("odd", 0)])
            .await
            .expect("heard");
        let mut next = SourceReporter::new(context, 0, kept_totals);
        next.totals([("frames", 2)]).await.expect("heard");
        drop((reporter, next));
        let told = |n| SourceEvent::Counters {
            source: 0,
            totals: vec![("frames", n)],
        };
        let lost = SourceEvent::Lost {
            source: 0,
            t_ms: BootMs(0),
            cause: "unplugged".into(),
        };
        let back = SourceEvent::Back {
            source: 0,
            t_ms: BootMs(2),
        };
        assert_eq!(receiver.all().await, [lost, back, told(7), told(9)]);
    }
}
