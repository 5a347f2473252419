//! Blocking work off the event loop, one piece at a time.

use tokio::sync::oneshot;

/// Runs work that may block for the disk on a thread of its own, so that a
/// signal interrupts the event loop whatever the disk does.
#[derive(Debug)]
pub(super) struct Background<T> {
    running: Option<oneshot::Receiver<T>>,
}

impl<T: Send + 'static> Background<T> {
    /// Nothing runs yet.
    pub(super) fn new() -> Self {
        Background { running: None }
    }

    /// Starts `work` unless an earlier piece still runs; true when it started.
    /// The result of an earlier piece that was not taken is dropped.
    pub(super) fn offer(&mut self, work: impl FnOnce() -> T + Send + 'static) -> bool {
        let _ = self.result();
        if self.running.is_some() {
            return false;
        }
        let (done, running) = oneshot::channel();
        self.running = Some(running);
        tokio::task::spawn_blocking(move || done.send(work()));
        true
    }

    /// Takes the result of a finished piece; never waits. Work that panicked
    /// gives none.
    pub(super) fn result(&mut self) -> Option<T> {
        let result = self.running.as_mut()?.try_recv();
        if !matches!(result, Err(oneshot::error::TryRecvError::Empty)) {
            self.running = None;
        }
        result.ok()
    }

    /// Waits for the result; forever while nothing runs, for use as the future
    /// of a `select!` arm. Safe to cancel: the work goes on. Work that panicked
    /// gives `None`.
    pub(super) async fn finished(&mut self) -> Option<T> {
        match &mut self.running {
            Some(running) => {
                let result = running.await.ok();
                self.running = None;
                result
            }
            None => std::future::pending().await,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;
    use std::time::Duration;

    #[tokio::test]
    async fn work_that_hangs_holds_nobody_up_and_is_not_started_twice() {
        let mut background = Background::new();
        let (release, held) = mpsc::channel::<()>();
        assert!(background.offer(move || held.recv().is_ok()));
        assert!(!background.offer(|| true), "one at a time");
        assert_eq!(background.result(), None);
        let waited = tokio::time::timeout(Duration::from_millis(20), background.finished()).await;
        assert!(waited.is_err(), "cancelled, the work goes on");
        release.send(()).expect("still held");
        assert_eq!(background.finished().await, Some(true));
        assert!(background.offer(|| panic!("a fault of the work")));
        assert_eq!(background.finished().await, None);
        assert!(background.offer(|| false));
    }
}
