//! Retention: by age and by free space, one session at a time, between commits.

use super::log::Keeping;
use seep_common::store::StoreError;

/// A day, ms.
const DAY_MS: f64 = 86_400_000.0;

/// Delete the oldest session if the rig's limits ask for it; true when one went.
pub(super) fn keep_space(keeping: &mut Keeping, now_boot_ms: i64) -> Result<bool, StoreError> {
    let Some((session, rig, shift_ms)) = keeping.current() else {
        return Ok(false);
    };
    let (keep_days, keep_free_mb) = (rig.recorder.keep_days, rig.recorder.keep_free_mb);
    let Some((writer, path)) = keeping.writer() else {
        return Ok(false);
    };
    let Some(oldest) = writer.oldest_deletable(session)? else {
        return Ok(false);
    };
    let age_ms = (now_boot_ms + shift_ms - oldest.to_t_ms) as f64;
    let too_old = keep_days.is_some_and(|days| age_ms > days * DAY_MS);
    let short = free_mb(path).is_some_and(|free| free < keep_free_mb);
    if too_old || short {
        writer.delete_readings(oldest)?;
    }
    Ok(too_old || short)
}

/// Space a normal user may still take on the medium of a file, MB.
pub(crate) fn free_mb(path: &std::path::Path) -> Option<u64> {
    let stat = rustix::fs::statvfs(path).ok()?;
    Some(stat.f_bavail.saturating_mul(stat.f_frsize) / 1_000_000)
}
