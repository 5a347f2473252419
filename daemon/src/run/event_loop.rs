//! The event loop of a recording: one session per rig, from start or reload to
//! the next reload or stop.
//!
//! Rule: no await in a `select!` arm that is not itself cancellable. Here no arm
//! awaits at all, and none calls what may block for a disk. What has to be waited
//! for is the future of an arm of its own, so that a signal interrupts it.

use super::background::Background;
use super::health::HealthTick;
use super::live_session::LiveSession;
use super::plan::Plan;
use crate::databases::Databases;
use crate::exit::{Exit, Failure};
use crate::rig_file;
use crate::source::live::{Heartbeat, SourceContext, SourceEvent, start as start_sources};
use crate::storage::{StorageHandle, StorageState};
use seep_common::rig::Rig;
use seep_common::store::EndReason;
use std::time::Duration;
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, MissedTickBehavior, timeout_at};

/// Events that may wait between a source and the session.
const EVENTS: usize = 256;

/// After a stop the sources may take this long to hand over what they hold.
const LAST_EVENTS: Duration = Duration::from_millis(2_500);

/// After a stop a source that hands over nothing for this long is stuck.
const STUCK_AFTER_STOP: Duration = Duration::from_millis(1_000);

/// After a stop the disk may take this long to take what waits; a unit that
/// stops a service by force does so later (`TimeoutStopSec`).
const LONGEST_FINISH: Duration = Duration::from_secs(10);

/// Signals within this time are one request: `timeout` and `sudo` signal the
/// recorder and then its process group.
const SAME_REQUEST: Duration = Duration::from_secs(1);

/// What a rig file came to.
type Loaded = Result<(Rig, Databases), Failure>;

/// Why a session ended.
enum SessionEnd {
    Stop,
    Reload(Box<(Rig, Databases)>),
}

struct Signals {
    terminate: Signal,
    interrupt: Signal,
    hang_up: Signal,
}

/// Records until a signal stops it; returns how storing went. `hang_up` is SIGHUP,
/// heard since before the log was looked at: its default is to kill.
///
/// # Errors
/// 69 when the system refuses signals.
pub(crate) async fn record(
    mut plan: Plan,
    handle: StorageHandle,
    hang_up: Signal,
) -> Result<StorageState, Failure> {
    let mut signals = Signals {
        terminate: listen(SignalKind::terminate())?,
        interrupt: listen(SignalKind::interrupt())?,
        hang_up,
    };
    let mut health = HealthTick::new();
    loop {
        let ended = session(&plan, &handle, &mut signals, &mut health).await;
        match ended {
            SessionEnd::Stop => break,
            SessionEnd::Reload(fresh) => (plan.rig, plan.databases) = *fresh,
        }
    }
    health.stopping();
    finish(handle, &mut signals).await
}

fn listen(kind: SignalKind) -> Result<Signal, Failure> {
    signal(kind).map_err(|e| Failure::new(Exit::Unavailable, e))
}

/// Stores what waits, for [`LONGEST_FINISH`] at most.
async fn finish(handle: StorageHandle, signals: &mut Signals) -> Result<StorageState, Failure> {
    let before = handle.state();
    let storing = tokio::task::spawn_blocking(move || handle.finish());
    tokio::select! {
        state = storing => state.map_err(|e| Failure::new(Exit::Io, e)),
        () = tokio::time::sleep(LONGEST_FINISH) => Ok(StorageState {
            lost_ticks: before.lost_ticks + before.waiting_ticks as u64,
            trouble: Some(format!(
                "the disk has not answered for {} s; what waited in memory is lost",
                LONGEST_FINISH.as_secs()
            )),
            ..before
        }),
        code = asked_again(signals) => std::process::exit(code),
    }
}

/// Waits for a second request to end, by somebody who knows that the disk hangs;
/// returns the exit code of its signal.
async fn asked_again(signals: &mut Signals) -> i32 {
    let first = Instant::now();
    loop {
        let code = tokio::select! {
            _ = signals.terminate.recv() => 143,
            _ = signals.interrupt.recv() => 130,
        };
        if first.elapsed() >= SAME_REQUEST {
            return code;
        }
    }
}

async fn session(
    plan: &Plan,
    handle: &StorageHandle,
    signals: &mut Signals,
    health: &mut HealthTick,
) -> SessionEnd {
    let mut command = |o| handle.send(o);
    let mut live = LiveSession::begin(&plan.rig, plan.clock.clone(), plan.synced, &mut command);
    let (sender, mut events) = mpsc::channel(EVENTS);
    let (stopper, stop) = watch::channel(false);
    let beat = Heartbeat::new(plan.rig.sources.len());
    let context = SourceContext {
        events: sender,
        stop,
        clock: plan.clock.clone(),
        beat: beat.clone(),
    };
    let tasks = start_sources(&plan.rig, &plan.databases, context);
    health.begin(plan, beat);
    let mut reload = Reload::new();
    let mut sources_live = true;
    let mut second = tokio::time::interval(Duration::from_secs(1));
    second.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let ended = loop {
        tokio::select! {
            event = events.recv(), if sources_live => match event {
                Some(event) => live.take(event, &mut command),
                None => sources_live = false,
            },
            _ = second.tick() => {
                live.pass(&mut command);
                health.tick(plan, &live, handle);
                if handle.has_ended() {
                    // Recording without storing would be pretence.
                    break SessionEnd::Stop;
                }
            }
            _ = signals.terminate.recv() => break SessionEnd::Stop,
            _ = signals.interrupt.recv() => break SessionEnd::Stop,
            _ = signals.hang_up.recv() => reload.ask(&plan.rig_path),
            loaded = reload.finished() => match loaded {
                // The file may have changed since: the last request counts.
                Ok(_) if reload.asked_meanwhile => reload.again(&plan.rig_path),
                Ok(fresh) => {
                    tracing::info!("{}: reloaded", plan.rig_path.display());
                    live.note("the rig was reloaded; a new session begins".into());
                    break SessionEnd::Reload(Box::new(fresh));
                }
                Err(failure) => {
                    tracing::error!("the rig is kept as it was: {failure}");
                    live.note(format!("the rig was not reloaded: {failure}"));
                    health.rig_problem = Some(failure.to_string());
                    reload.again(&plan.rig_path);
                }
            },
        }
    };
    let _ = stopper.send(true);
    last_events(&mut events, &mut live, &mut command).await;
    for task in tasks {
        task.abort();
    }
    live.finish(EndReason::Stopped, &mut command);
    ended
}

/// Takes what the stopped sources still hold; a stuck one is not waited for long.
async fn last_events(
    events: &mut mpsc::Receiver<SourceEvent>,
    live: &mut LiveSession,
    command: &mut dyn FnMut(crate::session::StorageCommand),
) {
    let until = Instant::now() + LAST_EVENTS;
    loop {
        let stuck = Instant::now() + STUCK_AFTER_STOP;
        match timeout_at(until.min(stuck), events.recv()).await {
            Ok(Some(event)) => live.take(event, command),
            _ => return,
        }
    }
}

/// Reads the rig anew off the event loop: its file may lie on a disk that hangs.
struct Reload {
    reading: Background<Loaded>,
    asked_meanwhile: bool,
}

impl Reload {
    fn new() -> Self {
        Reload {
            reading: Background::new(),
            asked_meanwhile: false,
        }
    }

    /// Starts to read; a request while one is being read is kept for after it.
    fn ask(&mut self, path: &std::path::Path) {
        let path = path.to_owned();
        let started = (self.reading).offer(move || rig_file::load_live(&path));
        self.asked_meanwhile = !started;
    }

    /// Reads once more when that was asked for in the meantime.
    fn again(&mut self, path: &std::path::Path) {
        if std::mem::take(&mut self.asked_meanwhile) {
            self.ask(path);
        }
    }

    async fn finished(&mut self) -> Loaded {
        let fault = || Failure::say(Exit::Io, "the rig was not read: a fault of this program");
        self.reading
            .finished()
            .await
            .unwrap_or_else(|| Err(fault()))
    }
}
