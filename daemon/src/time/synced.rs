//! Whether the wall clock is synchronised to anything.

use std::path::Path;

/// Made by systemd-timesyncd at its first synchronisation since the boot.
const TIMESYNC_FLAG: &str = "/run/systemd/timesync/synchronized";

/// True when the kernel, or systemd-timesyncd, calls the clock synchronised.
///
/// The kernel's flag covers every other time daemon; in a hardened unit the call
/// may be refused, then the file alone decides.
pub(crate) fn clock_is_synced() -> bool {
    kernel_says_synced().unwrap_or(false) || Path::new(TIMESYNC_FLAG).exists()
}

/// `adjtimex(2)` without changing anything; `None` when it is refused.
#[allow(unsafe_code, reason = "no crate of the dependency set offers adjtimex")]
fn kernel_says_synced() -> Option<bool> {
    // SAFETY: an all-zero timex is valid (integers only) and asks to change
    // nothing; the kernel writes into it within its size.
    let (state, timex) = unsafe {
        let mut timex: libc::timex = std::mem::zeroed();
        (libc::adjtimex(&raw mut timex), timex)
    };
    (state >= 0).then_some(state != libc::TIME_ERROR && timex.status & libc::STA_UNSYNC == 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn asking_changes_nothing_and_gives_an_answer_twice() {
        assert_eq!(clock_is_synced(), clock_is_synced());
    }
}
