//! Supervises the task of one source: restarts it after a fault.

use super::context::{SourceContext, Stopped};
use super::reporter::{KeptTotals, SourceReporter};
use std::future::Future;
use std::pin::Pin;
use std::time::Duration;

/// A source that is being read; it ends when recording ends.
pub(super) type Work = Pin<Box<dyn Future<Output = Result<(), Stopped>> + Send>>;

/// Starts reading, as often as needed.
pub(super) type SourceFactory = Box<dyn Fn(SourceReporter) -> Work + Send>;

/// A source whose task met a fault of this program is started anew after this.
const AFTER_FAULT: Duration = Duration::from_secs(5);

/// Aborts a task when the one that waits for it is aborted: a source of an
/// earlier rig must not keep its line.
struct AbortOnDrop(tokio::task::AbortHandle);

impl Drop for AbortOnDrop {
    fn drop(&mut self) {
        self.0.abort();
    }
}

/// A source that cannot be read in a live recording.
pub(super) fn unavailable(cause: &'static str) -> SourceFactory {
    Box::new(move |mut reporter| Box::pin(async move { reporter.never(cause.into()).await }))
}

/// Read a source until recording ends. A fault of the program inside its task is
/// told like any other loss and costs the other sources nothing.
pub(super) async fn supervise(begin: SourceFactory, context: SourceContext, source: usize) {
    let kept_totals = KeptTotals::default();
    loop {
        let reporter = SourceReporter::new(context.clone(), source, kept_totals.clone());
        let task = tokio::spawn(begin(reporter));
        let _aborted_with_this = AbortOnDrop(task.abort_handle());
        match task.await {
            Ok(Ok(()) | Err(Stopped)) => return,
            Err(fault) => {
                let mut reporter =
                    SourceReporter::new(context.clone(), source, kept_totals.clone());
                let told = reporter
                    .lost(format!("fault of seepd itself: {fault}; report it"))
                    .await;
                if told.is_err() || reporter.sleep(AFTER_FAULT).await.is_err() {
                    return;
                }
                // It was lost, whatever the task that starts now knows of it.
                let now_ms = reporter.now_ms();
                if reporter.back(now_ms).await.is_err() {
                    return;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::live::SourceEvent;
    use crate::source::live::testing::test_context;
    use seep_common::time::BootMs;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicU32, Ordering};

    #[tokio::test(start_paused = true)]
    async fn an_aborted_source_lets_go_of_what_it_holds() {
        let (context, _ear) = test_context();
        let held = Arc::new(());
        let begin: SourceFactory = Box::new({
            let held = held.clone();
            move |_| {
                let held = held.clone();
                Box::pin(async move {
                    let _held = held;
                    std::future::pending().await
                })
            }
        });
        let task = tokio::spawn(supervise(begin, context, 0));
        tokio::time::sleep(Duration::from_secs(1)).await;
        assert_eq!(Arc::strong_count(&held), 3);
        task.abort();
        tokio::time::sleep(Duration::from_secs(1)).await;
        assert_eq!(Arc::strong_count(&held), 1, "the source still runs");
    }

    #[tokio::test(start_paused = true)]
    async fn a_fault_is_told_and_the_source_started_anew() {
        let (context, mut receiver) = test_context();
        let starts = Arc::new(AtomicU32::new(0));
        let begin: SourceFactory = Box::new(move |mut reporter| {
            let starts = starts.clone();
            Box::pin(async move {
                let nth = starts.fetch_add(1, Ordering::SeqCst);
                assert_ne!(nth, 0, "the first start meets a fault");
                reporter.note(BootMs(0), "running".into()).await
            })
        });
        supervise(begin, context, 0).await;
        let events = receiver.all().await;
        let [
            SourceEvent::Lost { cause, .. },
            SourceEvent::Back { .. },
            SourceEvent::Note { .. },
        ] = &events[..]
        else {
            panic!("{events:?}");
        };
        assert!(cause.contains("the first start meets a fault"), "{cause}");
    }
}
