//! Retention: by age and by free space, one session at a time, between commits.

use super::log_file::LogFile;
use seep_common::store::{Oldest, StoreError};
use seep_common::time::BootMs;
use std::path::Path;

/// A day, ms.
const DAY_MS: f64 = 86_400_000.0;

/// How long a shortage of space is told before anything is deleted, ms: time for
/// a person to make space, or for another program's large file to go again.
const WARNING_MS: i64 = 10 * 60_000;

/// Asks for the free space on the medium of a file, bytes.
type FreeBytes = Box<dyn Fn(&Path) -> Option<u64> + Send>;

/// What a look at the space found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Space {
    /// Nothing is to be done.
    Enough,
    /// A session was deleted; more may have to go.
    Deleted,
    /// Space is short and nothing was deleted, for this reason.
    Short(String),
}

/// Keeps to the rig's limits of age and space.
pub(super) struct Retention {
    /// Since when space has been short, boot time, ms.
    short_since_ms: Option<BootMs>,
    /// Free space on the medium of a file, bytes.
    free_bytes: FreeBytes,
    /// Bytes in a unit of the limits; smaller in tests only.
    mb_bytes: u64,
}

impl Default for Retention {
    fn default() -> Self {
        Retention {
            short_since_ms: None,
            free_bytes: Box::new(free_bytes),
            mb_bytes: 1_000_000,
        }
    }
}

impl Retention {
    /// Delete the oldest session if the rig's limits ask for it. Ages are looked
    /// at only when asked; `disk_full` says that a commit has just failed for want
    /// of space.
    ///
    /// An age needs two dates. While the clock is not known to be right, now or by
    /// the time the session was over, it is kept: a clock that is years ahead must
    /// not delete anything. Free space needs no date.
    ///
    /// # Errors
    /// The log's errors.
    pub(super) fn look(
        &mut self,
        log_file: &mut LogFile,
        now_boot_ms: BootMs,
        look_at_age: bool,
        disk_full: bool,
    ) -> Result<Space, StoreError> {
        if look_at_age && let Some((oldest, why)) = too_old(log_file, now_boot_ms)? {
            delete(log_file, now_boot_ms, oldest, &why)?;
            return Ok(Space::Deleted);
        }
        self.look_at_space(log_file, now_boot_ms, disk_full)
    }

    fn look_at_space(
        &mut self,
        log_file: &mut LogFile,
        now_boot_ms: BootMs,
        disk_full: bool,
    ) -> Result<Space, StoreError> {
        let Some((session, rig, _)) = log_file.current() else {
            return Ok(Space::Enough);
        };
        let limit_mb = rig.recorder.keep_free_mb;
        let wanted = limit_mb.saturating_mul(self.mb_bytes);
        let Some((writer, path)) = log_file.writer() else {
            return Ok(Space::Enough);
        };
        let path = path.to_path_buf();
        let missing = || (self.free_bytes)(&path).map_or(0, |free| wanted.saturating_sub(free));
        // Even a look into the log wears the card a little.
        if missing() == 0 && !disk_full {
            self.short_since_ms = None;
            return Ok(Space::Enough);
        }
        // What an earlier deletion freed counts first. While a reader keeps the
        // file from getting shorter, deleting more would free nothing.
        if !writer.give_back()? {
            return Ok(Space::Short(format!(
                "less than keep_free_mb = {limit_mb} is free, and a program that reads the log keeps space from coming free"
            )));
        }
        let missing_bytes = missing();
        if missing_bytes == 0 && !disk_full {
            self.short_since_ms = None;
            return Ok(Space::Enough);
        }
        let Some(oldest) = writer.oldest_deletable(session)? else {
            return Ok(Space::Short(format!(
                "less than keep_free_mb = {limit_mb} is free, and there is no old session to delete: make space"
            )));
        };
        if !disk_full
            && let Some(why) = self.reason_to_wait(
                limit_mb,
                missing_bytes,
                writer.deletable_bytes(session)?,
                now_boot_ms,
            )
        {
            return Ok(Space::Short(why));
        }
        let why = if disk_full {
            "the disk was full".to_string()
        } else {
            format!("less than keep_free_mb = {limit_mb} was free")
        };
        delete(log_file, now_boot_ms, oldest, &why)?;
        Ok(Space::Deleted)
    }

    /// Why nothing is deleted yet, or at all; noted in the journal once.
    fn reason_to_wait(
        &mut self,
        limit_mb: u64,
        missing_bytes: u64,
        deletable_bytes: u64,
        now_boot_ms: BootMs,
    ) -> Option<String> {
        let first = self.short_since_ms.is_none();
        let since_ms = *self.short_since_ms.get_or_insert(now_boot_ms);
        let mb = |bytes: u64| bytes as f64 / self.mb_bytes as f64;
        let short = format!(
            "{:.1} MB too few are free for keep_free_mb = {limit_mb}",
            mb(missing_bytes)
        );
        let why = if deletable_bytes < missing_bytes {
            format!(
                "{short}; all old sessions of this log are {:.1} MB, which is not enough, so none is deleted: make space, or lower keep_free_mb",
                mb(deletable_bytes)
            )
        } else if now_boot_ms.since(since_ms) < WARNING_MS {
            format!(
                "{short}; the oldest session is deleted when this lasts {} minutes: make space, or lower keep_free_mb",
                WARNING_MS / 60_000
            )
        } else {
            return None;
        };
        if first {
            tracing::warn!("{why}");
        }
        Some(why)
    }
}

/// The oldest session when it is older than the rig allows, and why it goes.
fn too_old(
    log_file: &mut LogFile,
    now_boot_ms: BootMs,
) -> Result<Option<(Oldest, String)>, StoreError> {
    let now_wall_ms = log_file.known_wall_ms(now_boot_ms);
    let Some((session, rig, _)) = log_file.current() else {
        return Ok(None);
    };
    let Some(most) = rig.recorder.keep_days else {
        return Ok(None);
    };
    let Some((writer, _)) = log_file.writer() else {
        return Ok(None);
    };
    let Some(oldest) = writer.oldest_deletable(session)? else {
        return Ok(None);
    };
    let days = now_wall_ms
        .zip(oldest.over_by_wall_ms)
        .map(|(now, over)| now.since(over) as f64 / DAY_MS);
    Ok(days
        .filter(|days| *days > most)
        .map(|_| (oldest, format!("older than keep_days = {most}"))))
}

fn delete(
    log_file: &mut LogFile,
    now_boot_ms: BootMs,
    oldest: Oldest,
    why: &str,
) -> Result<(), StoreError> {
    let Some((writer, _)) = log_file.writer() else {
        return Ok(());
    };
    let rows = writer.delete_readings(oldest)?;
    writer.give_back()?;
    let text = format!("{rows} rows of session {} were deleted: {why}", oldest.id.0);
    tracing::info!("{text}");
    log_file.expect_none_before(oldest.to_t_ms);
    log_file.tell(now_boot_ms, text);
    Ok(())
}

/// Space a normal user may still take on the medium of a file, bytes.
fn free_bytes(path: &Path) -> Option<u64> {
    let stat = rustix::fs::statvfs(path).ok()?;
    Some(stat.f_bavail.saturating_mul(stat.f_frsize))
}

/// The same, MB.
pub(crate) fn free_mb(path: &Path) -> Option<u64> {
    free_bytes(path).map(|bytes| bytes / 1_000_000)
}

#[cfg(test)]
mod tests;
