//! The status file: what a running recorder says of itself, every second.

use rustix::fs::{Access, access};
use seep_common::store::write_ahead_bytes;
use seep_common::time::{BootMs, WallMs};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Version of the layout.
pub(crate) const LAYOUT: &str = "seepd-status/1";

/// A status older than this means that the recorder does not run, s.
pub(crate) const STALE_S: f64 = 10.0;

/// No status is larger, bytes.
const MOST_STATUS_BYTES: u64 = 4 << 20;

/// A write-ahead log above this is held up by a reader, MB; else it stays
/// around 4, and is cut back to 8 after a burst.
const HELD_UP_MB: u64 = 10;

/// Size of the write-ahead log of a log, MB, when a reader holds it up.
pub(crate) fn held_up_mb(log: &Path) -> Option<u64> {
    let mb = write_ahead_bytes(log) / 1_000_000;
    (mb >= HELD_UP_MB).then_some(mb)
}

/// Everything a person or a script may ask of a running recorder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Status {
    /// [`LAYOUT`].
    pub layout: String,
    /// Process id.
    pub pid: u32,
    /// Boot time when this was written, ms.
    pub boot_ms: BootMs,
    /// Wall time then, ms since 1970 UTC.
    pub wall_ms: WallMs,
    /// Whether the wall clock is synchronised.
    pub clock_synced: bool,
    /// The log.
    pub log: PathBuf,
    /// The session being recorded.
    pub session: Option<i64>,
    /// What is wrong with the log; absent when all is well.
    pub trouble: Option<String>,
    /// Why the rig was not reloaded when asked.
    pub rig_problem: Option<String>,
    /// Seconds since the last commit.
    pub committed_s_ago: Option<f64>,
    /// Rows that wait in memory.
    pub waiting_rows: usize,
    /// Rows stored.
    pub stored_rows: u64,
    /// Rows given up.
    pub lost_rows: u64,
    /// What another program did to the log since the start, or why it was set
    /// aside, and what became of the rows.
    #[serde(default)]
    pub log_changed: Option<String>,
    /// Why space is short, and what happens next.
    #[serde(default)]
    pub space_short: Option<String>,
    /// Space left on the medium, MB.
    pub free_mb: Option<u64>,
    /// Size of the write-ahead log, MB, when a reader that keeps one view of
    /// the log open makes it grow; absent when it is as small as it should be.
    #[serde(default)]
    pub held_up_mb: Option<u64>,
    /// Sources.
    pub sources: Vec<SourceStatus>,
    /// Channels.
    pub channels: Vec<ChannelStatus>,
}

/// A source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct SourceStatus {
    /// The rig's name for it.
    pub name: String,
    /// Its kind.
    pub kind: String,
    /// Why it cannot be read; absent when it can.
    pub lost: Option<String>,
    /// Sleeps with the ignition, and nothing says that the vehicle is awake:
    /// neither silent nor lost is trouble then.
    #[serde(default)]
    pub asleep: bool,
    /// The last text of the sender, such as name and version of a board.
    #[serde(default)]
    pub sender_text: Option<String>,
    /// Transducers that send and feed no channel of the rig.
    #[serde(default)]
    pub unknown: Vec<String>,
    /// Seconds since it spoke; absent when it never did.
    pub heard_s_ago: Option<f64>,
}

/// A channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct ChannelStatus {
    /// Its name.
    pub name: String,
    /// Unit of the value.
    pub unit: String,
    /// The source it comes from.
    pub source: String,
    /// The last reading.
    pub value: Option<f64>,
    /// Seconds since then.
    pub age_s: Option<f64>,
    /// Readings per second.
    pub rate_hz: Option<f64>,
    /// Readings since the session began.
    pub readings: u64,
    /// Silent for longer than its source may be.
    pub silent: bool,
}

impl SourceStatus {
    /// Cannot be read although it should be.
    fn is_missed(&self) -> bool {
        self.lost.is_some() && !self.asleep
    }
}

impl Status {
    /// Anything a person should look at.
    pub(crate) fn is_red(&self) -> bool {
        self.trouble.is_some()
            || self.rig_problem.is_some()
            || self.log_changed.is_some()
            || self.space_short.is_some()
            || self.channels.iter().any(|c| c.silent)
            || self.sources.iter().any(SourceStatus::is_missed)
    }

    /// One line, for the service manager.
    pub(crate) fn line(&self) -> String {
        if let Some(trouble) = &self.trouble {
            return format!(
                "LOG NOT WRITTEN, {} rows wait: {trouble}",
                self.waiting_rows
            );
        }
        let silent = self.channels.iter().filter(|c| c.silent).count();
        let rate: f64 = self
            .channels
            .iter()
            .filter(|c| !c.silent)
            .filter_map(|c| c.rate_hz)
            .sum();
        let lost: Vec<_> = self
            .sources
            .iter()
            .filter(|s| s.is_missed())
            .map(|s| s.name.as_str())
            .collect();
        let lost = if lost.is_empty() {
            String::new()
        } else {
            format!(", lost: {}", lost.join(", "))
        };
        let asleep = self.sources.iter().filter(|s| s.asleep).count();
        let asleep = if asleep > 0 {
            format!(", {asleep} asleep")
        } else {
            String::new()
        };
        format!(
            "{} of {} channels, {rate:.0} readings/s, {} rows stored{asleep}{lost}",
            self.channels.len() - silent,
            self.channels.len(),
            self.stored_rows,
        )
    }

    /// Put it in place of the file of before, never half written.
    ///
    /// # Errors
    /// The file system's.
    pub(crate) fn write(&self, path: &Path) -> std::io::Result<()> {
        let text = serde_json::to_vec(self).map_err(std::io::Error::other)?;
        crate::files::replace(path, &text)
    }

    /// Read a status file.
    ///
    /// # Errors
    /// The file system's, and a file that is no status.
    pub(crate) fn read(path: &Path) -> std::io::Result<Self> {
        let text = crate::files::read_regular(path, MOST_STATUS_BYTES)?;
        serde_json::from_slice(&text).map_err(std::io::Error::other)
    }
}

/// Where the status lies when nobody says: the service's runtime folder, else
/// the user's. Both are in memory, so that it wears nothing.
pub(crate) fn usual_path() -> Option<PathBuf> {
    let may_write = |folder: &Path| access(folder, Access::WRITE_OK).is_ok();
    let mut places = places().into_iter();
    places.find_map(|(folder, file)| may_write(&folder).then(|| folder.join(file)))
}

/// The newest status in all the places where a recorder of this user, or the
/// service, may have written one.
pub(crate) fn newest() -> Option<PathBuf> {
    let found = places().into_iter().map(|(folder, file)| folder.join(file));
    let dated = found.filter_map(|path| {
        let written = std::fs::metadata(&path).ok()?.modified().ok()?;
        Some((written, path))
    });
    dated.max().map(|(_, path)| path)
}

/// Folders in memory and the file's name in each, the best first. The user's
/// folder is known by its number even where the environment does not name it
/// (a shell of `su`, a job of cron).
fn places() -> [(PathBuf, String); 3] {
    let folder = |name: &str| std::env::var_os(name).map(PathBuf::from);
    let user = rustix::process::getuid().as_raw();
    let service = folder("RUNTIME_DIRECTORY").unwrap_or_else(|| "/run/seepd".into());
    let own = folder("XDG_RUNTIME_DIR").unwrap_or_else(|| format!("/run/user/{user}").into());
    [
        (service, "status.json".into()),
        (own, "seepd-status.json".into()),
        // Without either: shared memory, one file for each user.
        ("/dev/shm".into(), format!("seepd-status-{user}.json")),
    ]
}
