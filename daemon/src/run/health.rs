//! What is looked at and told every second: the service manager, its watchdog,
//! the status file.

use super::background::Background;
use super::live_session::LiveSession;
use super::plan::Plan;
use super::status::{LAYOUT, Status, held_up_mb};
use super::watchdog::Watchdog;
use crate::source::live::Heartbeat;
use crate::storage::{StorageHandle, StorageState, free_mb};
use sd_notify::NotifyState;
use seep_common::text::escape_hidden;
use seep_common::time::BootMs;

/// State of the medium under the log.
#[derive(Debug, Clone, Copy, Default)]
struct Medium {
    free_mb: Option<u64>,
    held_up_mb: Option<u64>,
}

/// The tick of every second. Nothing in it blocks for a disk or a socket.
pub(super) struct HealthTick {
    /// Why the rig was not reloaded when asked.
    pub rig_problem: Option<String>,
    beat: Heartbeat,
    live: Vec<bool>,
    watchdog: Watchdog,
    ready: bool,
    stuck_reported: bool,
    medium: Medium,
    measuring: Background<Medium>,
    writing: Background<()>,
    notifying: Background<()>,
}

impl HealthTick {
    /// Before the first session.
    pub(super) fn new() -> Self {
        HealthTick {
            rig_problem: None,
            beat: Heartbeat::new(0),
            live: Vec::new(),
            watchdog: Watchdog::new(0),
            ready: false,
            stuck_reported: false,
            medium: Medium::default(),
            measuring: Background::new(),
            writing: Background::new(),
            notifying: Background::new(),
        }
    }

    /// A session starts with sources of its own.
    pub(super) fn begin(&mut self, plan: &Plan, beat: Heartbeat) {
        self.beat = beat;
        self.live = plan.rig.sources.iter().map(|s| s.kind.is_live()).collect();
        self.watchdog = Watchdog::new(plan.rig.sources.len());
        self.rig_problem = None;
        self.stuck_reported = false;
    }

    /// Tells how the recording goes; to be called about every second.
    pub(super) fn tick(&mut self, plan: &Plan, session: &LiveSession, handle: &StorageHandle) {
        if let Some(medium) = self.measuring.result() {
            self.medium = medium;
        }
        let log = plan.log.clone();
        self.measuring.offer(move || Medium {
            free_mb: free_mb(&log),
            held_up_mb: held_up_mb(&log),
        });
        let status = self.status(plan, session, &handle.state());
        let good = self
            .watchdog
            .all_go_on(&self.beat, &self.live, handle.beat());
        if !good && !self.stuck_reported {
            tracing::error!("a task makes no progress; the watchdog is not fed");
        }
        self.stuck_reported = !good;
        self.notify(&status, good);
        if let Some(path) = plan.status_file.clone() {
            self.writing.offer(move || {
                if let Err(e) = status.write(&path) {
                    tracing::debug!("{}: {e}", path.display());
                }
            });
        }
    }

    /// The recording ends.
    pub(super) fn stopping(&mut self) {
        (self.notifying).offer(|| drop(sd_notify::notify(&[NotifyState::Stopping])));
    }

    fn notify(&mut self, status: &Status, good: bool) {
        let line = escape_hidden(&status.line()).into_owned();
        let ready = !self.ready && (status.session.is_some() || status.trouble.is_some());
        let told = self.notifying.offer(move || {
            let mut states = vec![NotifyState::Status(&line)];
            if ready {
                states.push(NotifyState::Ready);
            }
            if good {
                states.push(NotifyState::Watchdog);
            }
            drop(sd_notify::notify(&states));
        });
        self.ready |= told && ready;
    }

    fn status(&self, plan: &Plan, session: &LiveSession, storage: &StorageState) -> Status {
        let boot_ms = plan.clock.boot_ms();
        let ago = |t_ms: BootMs| boot_ms.since(t_ms).max(0) as f64 / 1000.0;
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
            free_mb: self.medium.free_mb,
            held_up_mb: self.medium.held_up_mb,
            sources: session.sources(),
            channels: session.channels(),
        }
    }
}
