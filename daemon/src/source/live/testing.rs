//! What the tests of live sources share: a context with a receiver, and serial lines
//! that can be unplugged.

use super::{Heartbeat, SourceContext, SourceEvent};
use crate::clock::VirtualClock;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{ControlModes, OptionalActions, tcgetattr, tcsetattr};
use seep_common::time::{BootMs, WallMs};
use std::collections::BTreeMap;
use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, watch};

/// Longest that any event is waited for: a guard against hanging, no measure.
const GUARD: Duration = Duration::from_secs(60);

/// The other end of a [`SourceContext`].
pub(super) struct TestReceiver {
    events: mpsc::Receiver<SourceEvent>,
    stop: watch::Sender<bool>,
    totals: BTreeMap<&'static str, u64>,
}

/// A context of up to four sources whose clock stands still, and its other end.
pub(super) fn test_context() -> (SourceContext, TestReceiver) {
    test_context_at(Arc::new(VirtualClock::at(BootMs(0), WallMs(0))))
}

/// A context with a clock of the test's choice, and its other end.
pub(super) fn test_context_at(
    clock: Arc<dyn crate::clock::Clock>,
) -> (SourceContext, TestReceiver) {
    let (sender, events) = mpsc::channel(1024);
    let (stopper, stop) = watch::channel(false);
    let context = SourceContext {
        events: sender,
        stop,
        clock,
        beat: Heartbeat::new(4),
    };
    let receiver = TestReceiver {
        events,
        stop: stopper,
        totals: BTreeMap::new(),
    };
    (context, receiver)
}

impl TestReceiver {
    /// The next event; panics when none comes.
    pub(super) async fn next(&mut self) -> SourceEvent {
        let heard = tokio::time::timeout(GUARD, self.events.recv()).await;
        let event = heard.expect("a word in time").expect("a source that lives");
        self.remember(&event);
        event
    }

    fn remember(&mut self, event: &SourceEvent) {
        if let SourceEvent::Counters { totals, .. } = event {
            self.totals.extend(totals.iter().copied());
        }
    }

    /// Every event up to the first for which `found` gives something.
    pub(super) async fn until<T>(&mut self, mut found: impl FnMut(&SourceEvent) -> Option<T>) -> T {
        loop {
            if let Some(what) = found(&self.next().await) {
                return what;
            }
        }
    }

    /// Cause of the next loss.
    pub(super) async fn lost(&mut self) -> String {
        self.until(|event| match event {
            SourceEvent::Lost { cause, .. } => Some(cause.clone()),
            _ => None,
        })
        .await
    }

    /// Every event up to the end of all sources; drop the test's own context first.
    pub(super) async fn all(&mut self) -> Vec<SourceEvent> {
        let mut all = Vec::new();
        while let Ok(Some(event)) = tokio::time::timeout(GUARD, self.events.recv()).await {
            self.remember(&event);
            all.push(event);
        }
        all
    }

    /// End recording; the events still on their way, and every total.
    pub(super) async fn end(
        mut self,
        tasks: Vec<tokio::task::JoinHandle<()>>,
    ) -> (Vec<SourceEvent>, BTreeMap<&'static str, u64>) {
        self.stop.send(true).expect("a source that lives");
        let events = self.all().await;
        for task in tasks {
            task.await.expect("no fault");
        }
        (events, self.totals)
    }
}

/// A serial line under a path that stays the same while the device behind it
/// changes, as links in /dev/serial/by-id do.
pub(super) struct TestLine {
    folder: tempfile::TempDir,
    far_end: Option<File>,
}

impl TestLine {
    /// Nothing is plugged in.
    pub(super) fn new() -> Self {
        let folder = tempfile::tempdir().expect("a place for the link");
        TestLine {
            folder,
            far_end: None,
        }
    }

    /// The path that stays.
    pub(super) fn path(&self) -> PathBuf {
        self.folder.path().join("usb-invented-box")
    }

    /// Plug in a device that nobody has seen before.
    pub(super) fn plug(&mut self) {
        let (far_end, near_end) = pty();
        let fresh = self.folder.path().join("fresh");
        std::os::unix::fs::symlink(near_end, &fresh).expect("a link");
        std::fs::rename(fresh, self.path()).expect("a link");
        self.far_end = Some(far_end);
    }

    /// Pull the plug: the link goes, the line ends.
    pub(super) fn unplug(&mut self) {
        let _ = std::fs::remove_file(self.path());
        self.far_end = None;
    }

    /// The device behind the link becomes another one, while the far end of the
    /// first stays open and silent.
    pub(super) fn swap(&mut self) -> File {
        let old = self.far_end.take().expect("plugged in");
        self.plug();
        old
    }

    /// Waits until a reader has opened the line: what is sent before that cannot be
    /// dated.
    pub(super) async fn opened(&self) {
        let far_end = self.far_end.as_ref().expect("plugged in");
        let is_open = || {
            let modes = tcgetattr(far_end).expect("a tty").control_modes;
            modes.contains(ControlModes::CLOCAL)
        };
        tokio::time::timeout(GUARD, async {
            while !is_open() {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
        })
        .await
        .expect("opened in time");
    }

    /// Waits until the kernel holds so many bytes for a reader: it takes them over
    /// from the far end at its leisure.
    pub(super) async fn holds(&self, bytes: u64) {
        let near_end = File::open(self.path()).expect("a tty");
        tokio::time::timeout(GUARD, async {
            while rustix::io::ioctl_fionread(&near_end).expect("a tty") < bytes {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
        })
        .await
        .expect("taken over in time");
    }

    /// What the far end sends.
    pub(super) fn send(&mut self, bytes: &[u8]) {
        let far_end = self.far_end.as_mut().expect("plugged in");
        far_end.write_all(bytes).expect("room");
    }

    /// The far end itself, to be served by something else.
    pub(super) fn far_end(&self) -> File {
        let far_end = self.far_end.as_ref().expect("plugged in");
        far_end.try_clone().expect("room for a handle")
    }
}

/// A pseudo terminal without any processing: its far end, and the path of its
/// near end.
pub(super) fn pty() -> (File, PathBuf) {
    let far_end = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pty");
    grantpt(&far_end).expect("ours");
    unlockpt(&far_end).expect("ours");
    let mut settings = tcgetattr(&far_end).expect("a tty");
    settings.make_raw();
    tcsetattr(&far_end, OptionalActions::Now, &settings).expect("a tty");
    let near_end = ptsname(&far_end, Vec::new()).expect("a name");
    let near_end = PathBuf::from(near_end.to_str().expect("ASCII").to_string());
    (File::from(far_end), near_end)
}

/// A path as the rig gives it.
pub(super) fn text(path: &Path) -> String {
    path.to_str().expect("ASCII").to_string()
}

/// Two pseudo terminals joined at their far ends, as two adapters by a cable.
pub(super) struct Cable {
    pub one_end: PathBuf,
    pub other_end: PathBuf,
    alive: Arc<std::sync::atomic::AtomicBool>,
}

impl Cable {
    pub(super) fn new() -> Self {
        let ((left, one_end), (right, other_end)) = (pty(), pty());
        let alive = Arc::new(std::sync::atomic::AtomicBool::new(true));
        let handles = |file: &File| file.try_clone().expect("room for a handle");
        let (left_too, right_too) = (handles(&left), handles(&right));
        copy(left, right, alive.clone());
        copy(right_too, left_too, alive.clone());
        Cable {
            one_end,
            other_end,
            alive,
        }
    }
}

impl Drop for Cable {
    fn drop(&mut self) {
        self.alive.store(false, std::sync::atomic::Ordering::SeqCst);
    }
}

fn copy(mut from: File, mut to: File, alive: Arc<std::sync::atomic::AtomicBool>) {
    std::thread::spawn(move || {
        let mut portion = [0; 512];
        while alive.load(std::sync::atomic::Ordering::SeqCst) {
            match std::io::Read::read(&mut from, &mut portion) {
                Ok(n @ 1..) => {
                    let _ = to.write_all(&portion[..n]);
                }
                // Nobody has the near end open.
                _ => std::thread::sleep(Duration::from_millis(2)),
            }
        }
    });
}
