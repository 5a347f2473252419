//! The storage thread, and the handle that sends it commands.

use super::backlog::Backlog;
use super::keep_space::{Retention, Space};
use super::log_file::LogFile;
use super::state::{StorageEnded, StorageState};
use crate::clock::Clock;
use crate::exit::Exit;
use crate::session::StorageCommand;
use seep_common::store::StoreError;
use seep_common::time::BootMs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Values that may wait in memory: 8 MB, about an hour of driving with a dozen
/// channels.
const MOST_CELLS: usize = 500_000;

/// Pauses between attempts while storing fails.
const RETRY: [Duration; 4] = [
    Duration::from_millis(250),
    Duration::from_millis(500),
    Duration::from_secs(1),
    Duration::from_secs(5),
];

/// After a stop, storing is tried this long; then what is left is given up.
const LAST_CHANCE: Duration = Duration::from_secs(3);

/// How often ages are looked at.
const LOOK_AT_AGE_EVERY: Duration = Duration::from_secs(3_600);

/// How often SQLite's lock on the log is looked after.
const LOOK_AT_LOCK_EVERY: Duration = Duration::from_secs(60);

/// How often space is looked at.
const KEEP_SPACE_EVERY: Duration = Duration::from_secs(60);

/// Sends commands to the storage thread; never blocks for the disk.
pub(crate) struct StorageHandle {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

struct Shared {
    inner: Mutex<Inner>,
    changed: Condvar,
}

struct Inner {
    backlog: Backlog,
    state: StorageState,
    stop: bool,
    beat: u64,
}

/// Start the thread.
///
/// # Errors
/// When the system gives no thread.
pub(crate) fn start(log_file: LogFile, clock: Arc<dyn Clock>) -> std::io::Result<StorageHandle> {
    let shared = Arc::new(Shared {
        inner: Mutex::new(Inner {
            backlog: Backlog::new(MOST_CELLS),
            state: StorageState::default(),
            stop: false,
            beat: 0,
        }),
        changed: Condvar::new(),
    });
    let worker = Worker {
        shared: shared.clone(),
        log_file,
        clock,
        failures: 0,
        failing_since: None,
        stopping_since: None,
        looked_at_space: None,
        looked_at_age: None,
        looked_at_lock: Instant::now(),
        retention: Retention::default(),
        opened: false,
    };
    let thread = std::thread::Builder::new()
        .name("storage".into())
        .spawn(move || run_to_the_end(worker))?;
    Ok(StorageHandle {
        shared,
        thread: Some(thread),
    })
}

/// A thread that panics stores nothing any more: the process must end with that.
fn run_to_the_end(worker: Worker) {
    let shared = worker.shared.clone();
    let Err(panic) = catch_unwind(AssertUnwindSafe(|| worker.work())) else {
        return;
    };
    let what = panic
        .downcast_ref::<String>()
        .map(String::as_str)
        .or_else(|| panic.downcast_ref::<&str>().copied())
        .unwrap_or("no reason given");
    shared.lock().end(StorageEnded {
        exit: Exit::Io,
        reason: format!("the storage thread failed: {what}"),
    });
}

impl Inner {
    /// Nothing is stored any more.
    fn end(&mut self, ended: StorageEnded) {
        tracing::error!("{}", ended.reason);
        self.state.lost_ticks += self.backlog.ticks() as u64;
        self.state.trouble = Some(ended.reason.clone());
        self.state.ended.get_or_insert(ended);
    }
}

impl StorageHandle {
    /// Sends a command.
    pub(crate) fn send(&self, command: StorageCommand) {
        self.shared.lock().backlog.push(command);
        self.shared.changed.notify_all();
    }

    /// How storing goes.
    pub(crate) fn state(&self) -> StorageState {
        let inner = self.shared.lock();
        StorageState {
            waiting_ticks: inner.backlog.ticks(),
            ..inner.state.clone()
        }
    }

    /// True when the thread has ended by itself: the process must end too.
    pub(crate) fn has_ended(&self) -> bool {
        self.shared.lock().state.ended.is_some()
    }

    /// Progress, for the watchdog.
    pub(crate) fn beat(&self) -> u64 {
        self.shared.lock().beat
    }

    /// Store everything, close the log, end the thread; returns how it went.
    pub(crate) fn finish(mut self) -> StorageState {
        self.shared.lock().stop = true;
        self.shared.changed.notify_all();
        if let Some(thread) = self.thread.take() {
            // A panic has been told by the thread itself.
            let _ = thread.join();
        }
        self.state()
    }
}

impl Shared {
    /// A thread that panicked leaves plain data behind; it is still good.
    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Wait for something to change.
    fn wait(&self, time: Duration, until: impl Fn(&Inner) -> bool) {
        let guard = self.lock();
        let waited = self
            .changed
            .wait_timeout_while(guard, time, |inner| !until(inner));
        drop(waited);
    }
}

struct Worker {
    shared: Arc<Shared>,
    log_file: LogFile,
    clock: Arc<dyn Clock>,
    failures: usize,
    failing_since: Option<BootMs>,
    stopping_since: Option<Instant>,
    looked_at_space: Option<Instant>,
    looked_at_age: Option<Instant>,
    looked_at_lock: Instant,
    retention: Retention,
    /// The log has been open once.
    opened: bool,
}

impl Worker {
    fn work(mut self) {
        loop {
            let (command, stop) = self.next();
            match command {
                Some(command) => self.carry_out(command),
                None if stop => break,
                None => {
                    self.look_after_file();
                    self.look_at_space(false);
                    let awake = |i: &Inner| !i.backlog.is_empty() || i.stop;
                    self.shared.wait(Duration::from_secs(1), awake);
                }
            }
            self.look_after_lock();
            if self.out_of_time() || self.shared.lock().state.ended.is_some() {
                break;
            }
        }
        let closed = self.log_file.close();
        let mut inner = self.shared.lock();
        if inner.state.ended.is_none() {
            inner.state.lost_ticks += inner.backlog.ticks() as u64;
        }
        if let Err(e) = closed {
            inner.state.trouble.get_or_insert(e.to_string());
        }
    }

    fn next(&mut self) -> (Option<StorageCommand>, bool) {
        let mut inner = self.shared.lock();
        inner.beat += 1;
        let lost = inner.backlog.take_lost();
        inner.state.lost_ticks += lost.ticks;
        let next = (inner.backlog.pop(), inner.stop);
        drop(inner);
        self.log_file.note_lost(&lost);
        next
    }

    fn carry_out(&mut self, command: StorageCommand) {
        match self.log_file.carry_out(&command) {
            Ok(ticks) => {
                // A date that became known may make a session too old.
                if matches!(command, StorageCommand::Clock(_)) {
                    self.looked_at_space = None;
                    self.looked_at_age = None;
                }
                self.note_success(ticks);
            }
            Err(e) => self.note_failure(command, &e),
        }
    }

    fn note_success(&mut self, ticks: u64) {
        let now_ms = self.clock.boot_ms();
        if let Some(since_ms) = self.failing_since.take() {
            let s = now_ms.since(since_ms) as f64 / 1000.0;
            self.log_file
                .note_recovered(format!("the log can be written again after {s:.0} s"));
        }
        self.failures = 0;
        self.opened = true;
        let mut inner = self.shared.lock();
        inner.state.trouble = None;
        inner.state.last_commit_boot_ms = Some(now_ms);
        inner.state.stored_ticks += ticks;
        drop(inner);
        self.publish();
    }

    /// What the log says of itself goes into the state.
    fn publish(&mut self) {
        let session = self.log_file.current().map(|(id, ..)| id.0);
        let destroyed = std::mem::take(&mut self.log_file.destroyed);
        let mut inner = self.shared.lock();
        inner.state.session = session;
        inner.state.set_aside.clone_from(&self.log_file.set_aside);
        inner.state.log_changed.clone_from(&self.log_file.changed);
        inner.state.stored_ticks = inner.state.stored_ticks.saturating_sub(destroyed);
        inner.state.lost_ticks += destroyed;
        inner.state.destroyed_ticks += destroyed;
    }

    /// Nothing is being stored: is the log still there?
    fn look_after_file(&mut self) {
        let looked = self.log_file.look_after_file().map(drop);
        self.note_look(looked);
    }

    fn look_after_lock(&mut self) {
        if self.looked_at_lock.elapsed() < LOOK_AT_LOCK_EVERY {
            return;
        }
        self.looked_at_lock = Instant::now();
        let looked = self.log_file.look_after_lock();
        self.note_look(looked);
    }

    fn note_look(&mut self, looked: Result<(), StoreError>) {
        self.publish();
        if let Err(e) = looked {
            let text = e.to_string();
            let mut inner = self.shared.lock();
            if inner.state.trouble.as_ref() != Some(&text) {
                tracing::error!("{text}");
            }
            inner.state.trouble = Some(text);
        }
    }

    fn note_failure(&mut self, command: StorageCommand, e: &StoreError) {
        if self.failing_since.is_none() {
            tracing::error!("{e}; readings wait in memory");
            self.failing_since = Some(self.clock.boot_ms());
        }
        let pause = RETRY[self.failures.min(RETRY.len() - 1)];
        self.failures += 1;
        let mut inner = self.shared.lock();
        inner.backlog.put_back(command);
        inner.state.trouble = Some(e.to_string());
        if !self.opened && matches!(e, StoreError::Locked { .. }) {
            inner.end(StorageEnded {
                exit: Exit::Temporary,
                reason: e.to_string(),
            });
            return;
        }
        let stop = inner.stop;
        drop(inner);
        self.publish();
        if e.is_full() {
            // The only remedy that the recorder has itself.
            self.look_at_space(true);
        }
        if stop {
            std::thread::sleep(RETRY[0]);
        } else {
            self.shared.wait(pause, |i| i.stop);
        }
    }

    fn out_of_time(&mut self) -> bool {
        if !self.shared.lock().stop {
            return false;
        }
        let since = *self.stopping_since.get_or_insert_with(Instant::now);
        self.failures > 0 && since.elapsed() > LAST_CHANCE
    }

    fn look_at_space(&mut self, disk_full: bool) {
        if !disk_full
            && self
                .looked_at_space
                .is_some_and(|at| at.elapsed() < KEEP_SPACE_EVERY)
        {
            return;
        }
        let age_due = self
            .looked_at_age
            .is_none_or(|at| at.elapsed() >= LOOK_AT_AGE_EVERY);
        let now_ms = self.clock.boot_ms();
        let looked = self
            .retention
            .look(&mut self.log_file, now_ms, age_due, disk_full);
        let mut inner = self.shared.lock();
        match looked {
            // More may have to go: look again at the next idle moment.
            Ok(Space::Deleted) => {
                inner.state.deleted_sessions += 1;
                return;
            }
            Ok(Space::Enough) => inner.state.space_short = None,
            Ok(Space::Short(why)) => inner.state.space_short = Some(why),
            Err(e) => tracing::warn!("{e}"),
        }
        drop(inner);
        if age_due {
            self.looked_at_age = Some(Instant::now());
        }
        self.looked_at_space = Some(Instant::now());
    }
}

#[cfg(test)]
mod tests;
