//! The life of a recording: one generation per rig, from start or reload to the
//! next reload or stop.

use super::collector::Collector;
use super::status::{LAYOUT, Status, held_up_mb};
use super::watchdog::Watchdog;
use crate::clock::Clock;
use crate::exit::Failure;
use crate::rig_file::{self, Databases};
use crate::source::live::{Beat, Port, Word, start as start_sources};
use crate::storage::{Hand, StorageState, free_mb};
use sd_notify::NotifyState;
use seep_common::rig::Rig;
use seep_common::store::EndReason;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::{mpsc, watch};
use tokio::time::MissedTickBehavior;

/// Words that may wait between a source and the collector.
const WORDS: usize = 256;

/// After a stop the sources may take this long to say their last words.
const LAST_WORDS: Duration = Duration::from_millis(2_500);

/// What to record, and where things are.
pub(crate) struct Plan {
    pub rig_path: PathBuf,
    pub rig: Rig,
    pub databases: Databases,
    pub log: PathBuf,
    pub status_file: Option<PathBuf>,
    pub clock: Arc<dyn Clock>,
    pub synced: fn() -> bool,
}

/// Why a generation ended.
enum Ended {
    Stop,
    Reload(Box<(Rig, Databases)>),
}

struct Signals {
    terminate: Signal,
    interrupt: Signal,
    hang_up: Signal,
}

/// Record until told to stop; returns how storing went.
///
/// # Errors
/// When the system refuses signals or a thread.
pub(crate) async fn record(mut plan: Plan, hand: Hand) -> Result<StorageState, Failure> {
    let mut signals = Signals {
        terminate: listen(SignalKind::terminate())?,
        interrupt: listen(SignalKind::interrupt())?,
        hang_up: listen(SignalKind::hangup())?,
    };
    let mut ready = false;
    loop {
        let ended = generation(&plan, &hand, &mut signals, &mut ready).await;
        match ended {
            Ended::Stop => break,
            Ended::Reload(fresh) => (plan.rig, plan.databases) = *fresh,
        }
    }
    let _ = sd_notify::notify(&[NotifyState::Stopping]);
    let storing = tokio::task::spawn_blocking(move || hand.finish());
    tokio::select! {
        state = storing => state.map_err(|e| Failure::new(crate::exit::Exit::Io, e)),
        // Asked twice: whoever asks knows that the disk hangs.
        _ = signals.terminate.recv() => std::process::exit(143),
        _ = signals.interrupt.recv() => std::process::exit(130),
    }
}

fn listen(kind: SignalKind) -> Result<Signal, Failure> {
    signal(kind).map_err(|e| Failure::new(crate::exit::Exit::Unavailable, e))
}

async fn generation(plan: &Plan, hand: &Hand, signals: &mut Signals, ready: &mut bool) -> Ended {
    let mut order = |o| hand.order(o);
    let mut collector = Collector::begin(&plan.rig, plan.clock.clone(), plan.synced, &mut order);
    let (words, mut heard) = mpsc::channel(WORDS);
    let (stopper, stop) = watch::channel(false);
    let beat = Beat::new(plan.rig.sources.len());
    let port = Port {
        words,
        stop,
        clock: plan.clock.clone(),
        beat: beat.clone(),
    };
    let tasks = start_sources(&plan.rig, &plan.databases, port);
    let mut look = Look::new(plan, beat);
    let mut second = tokio::time::interval(Duration::from_secs(1));
    second.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let ended = loop {
        tokio::select! {
            word = heard.recv() => match word {
                Some(word) => collector.take(word, &mut order),
                // No source is live: wait for a signal all the same.
                None => std::future::pending().await,
            },
            _ = second.tick() => {
                collector.pass(&mut order);
                look.at(plan, &collector, hand, ready);
                if hand.has_ended() {
                    // Recording without storing would be pretence.
                    break Ended::Stop;
                }
            }
            _ = signals.terminate.recv() => break Ended::Stop,
            _ = signals.interrupt.recv() => break Ended::Stop,
            _ = signals.hang_up.recv() => {
                if let Some(fresh) = look.reload(plan, &mut collector) {
                    break Ended::Reload(fresh);
                }
            }
        }
    };
    let _ = stopper.send(true);
    last_words(&mut heard, &mut collector, &mut order).await;
    for task in tasks {
        task.abort();
    }
    collector.finish(EndReason::Stopped, &mut order);
    ended
}

async fn last_words(
    heard: &mut mpsc::Receiver<Word>,
    collector: &mut Collector,
    order: &mut dyn FnMut(crate::storage::Order),
) {
    let until = tokio::time::Instant::now() + LAST_WORDS;
    while let Ok(Some(word)) = tokio::time::timeout_at(until, heard.recv()).await {
        collector.take(word, order);
    }
}

/// What is looked at every second.
struct Look {
    beat: Beat,
    live: Vec<bool>,
    watchdog: Watchdog,
    rig_problem: Option<String>,
    stuck_told: bool,
}

impl Look {
    fn new(plan: &Plan, beat: Beat) -> Self {
        Look {
            beat,
            live: plan.rig.sources.iter().map(|s| s.kind.is_live()).collect(),
            watchdog: Watchdog::new(plan.rig.sources.len()),
            rig_problem: None,
            stuck_told: false,
        }
    }

    fn at(&mut self, plan: &Plan, collector: &Collector, hand: &Hand, ready: &mut bool) {
        let status = self.status(plan, collector, &hand.state());
        let line = status.line();
        let mut said = vec![NotifyState::Status(&line)];
        if !*ready && (status.session.is_some() || status.trouble.is_some()) {
            *ready = true;
            said.push(NotifyState::Ready);
        }
        let good = self.watchdog.all_go_on(&self.beat, &self.live, hand.beat());
        if good {
            said.push(NotifyState::Watchdog);
        } else if !self.stuck_told {
            tracing::error!("a task makes no progress; the watchdog is not fed");
        }
        self.stuck_told = !good;
        let _ = sd_notify::notify(&said);
        if let Some(path) = &plan.status_file
            && let Err(e) = status.write(path)
        {
            tracing::debug!("{}: {e}", path.display());
        }
    }

    fn status(&self, plan: &Plan, collector: &Collector, storage: &StorageState) -> Status {
        let boot_ms = plan.clock.boot_ms();
        let ago = |t_ms: i64| (boot_ms - t_ms).max(0) as f64 / 1000.0;
        Status {
            layout: LAYOUT.into(),
            pid: std::process::id(),
            boot_ms,
            wall_ms: plan.clock.wall_ms(),
            clock_synced: (plan.synced)(),
            log: plan.log.clone(),
            session: storage.session,
            trouble: storage.trouble.clone(),
            rig_problem: self.rig_problem.clone(),
            committed_s_ago: storage.last_commit_boot_ms.map(ago),
            waiting_rows: storage.waiting_ticks,
            stored_rows: storage.stored_ticks,
            lost_rows: storage.lost_ticks,
            log_changed: storage.log_changed.clone(),
            space_short: storage.space_short.clone(),
            free_mb: free_mb(&plan.log),
            held_up_mb: held_up_mb(&plan.log),
            sources: collector.sources(),
            channels: collector.channels(),
        }
    }

    /// The rig anew; `None`, and a word about it, when it cannot be used.
    fn reload(&mut self, plan: &Plan, collector: &mut Collector) -> Option<Box<(Rig, Databases)>> {
        match rig_file::load(&plan.rig_path) {
            Ok(fresh) => {
                tracing::info!("{}: reloaded", plan.rig_path.display());
                collector.note("the rig was reloaded; a new session begins".into());
                Some(Box::new(fresh))
            }
            Err(failure) => {
                tracing::error!("the rig is kept as it was: {failure}");
                collector.note(format!("the rig was not reloaded: {failure}"));
                self.rig_problem = Some(failure.to_string());
                None
            }
        }
    }
}
