//! Retention: by age and by free space, one session at a time, between commits.

use super::log::Keeping;
use seep_common::store::StoreError;
use std::path::Path;

/// A day, ms.
const DAY_MS: f64 = 86_400_000.0;

/// Delete the oldest session if the rig's limits ask for it; true when one went.
///
/// `free_mb` tells how much space is left on the medium of a file; ages are
/// looked at only when asked.
///
/// An age needs two dates. While the clock is not known to be right, now or by
/// the time the session was over, it is kept: a clock that is years ahead must
/// not delete anything. Free space needs no date.
pub(super) fn keep_space(
    keeping: &mut Keeping,
    now_boot_ms: i64,
    free_mb: impl Fn(&Path) -> Option<u64>,
    look_at_age: bool,
) -> Result<bool, StoreError> {
    let Some((session, rig, _)) = keeping.current() else {
        return Ok(false);
    };
    let keep_days = rig.recorder.keep_days.filter(|_| look_at_age);
    let keep_free_mb = rig.recorder.keep_free_mb;
    let now_wall_ms = keeping.known_wall_ms(now_boot_ms);
    let Some((writer, path)) = keeping.writer() else {
        return Ok(false);
    };
    let is_short = || free_mb(path).is_some_and(|free| free < keep_free_mb);
    // Even a look into the log wears the card a little.
    if keep_days.is_none() && !is_short() {
        return Ok(false);
    }
    let Some(oldest) = writer.oldest_deletable(session)? else {
        return Ok(false);
    };
    let days = now_wall_ms
        .zip(oldest.over_by_wall_ms)
        .map(|(now, over)| (now - over) as f64 / DAY_MS);
    let too_old = keep_days
        .zip(days)
        .filter(|(most, days)| days > most)
        .map(|(most, _)| format!("older than keep_days = {most}"));
    let why = match too_old {
        Some(why) => why,
        // What an earlier deletion freed counts first. While a reader keeps the
        // file from getting shorter, deleting more would free nothing.
        None if is_short() && writer.give_back()? && is_short() => {
            format!("less than keep_free_mb = {keep_free_mb} was free")
        }
        None => return Ok(false),
    };
    let rows = writer.delete_readings(oldest)?;
    writer.give_back()?;
    let text = format!("{rows} rows of session {} were deleted: {why}", oldest.id.0);
    tracing::info!("{text}");
    keeping.tell(now_boot_ms, text);
    Ok(true)
}

/// Space a normal user may still take on the medium of a file, MB.
pub(crate) fn free_mb(path: &Path) -> Option<u64> {
    let stat = rustix::fs::statvfs(path).ok()?;
    Some(stat.f_bavail.saturating_mul(stat.f_frsize) / 1_000_000)
}

#[cfg(test)]
mod tests;
