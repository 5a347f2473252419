//! Messages of a running recorder: standard error that is never waited for.

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::io::{self, StderrLock, Write, stderr};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// Bytes that a pipe said to be ready takes without a wait.
///
/// **Source**: POSIX.1-2017, `limits.h`, PIPE_BUF is 4,096 on Linux (`pipe(7)`).
const AT_ONCE: usize = 4_096;

/// Messages dropped because nobody read the ones before them.
static DROPPED: AtomicU64 = AtomicU64::new(0);

/// Standard error. Where its reader stands still, messages are dropped and
/// counted, and the next one that is taken says how many: a full pipe or journal
/// must never hold up recording.
#[derive(Debug)]
pub(crate) struct Messages;

impl Write for Messages {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut to = stderr().lock();
        if !takes(&to, Duration::ZERO) {
            DROPPED.fetch_add(1, Ordering::Relaxed);
            return Ok(bytes.len());
        }
        let dropped = DROPPED.swap(0, Ordering::Relaxed);
        if dropped > 0 {
            let text = format!("seepd: {dropped} messages were dropped, since nobody read them\n");
            to.write_all(text.as_bytes())?;
        }
        for part in bytes.chunks(AT_ONCE) {
            if !takes(&to, Duration::ZERO) {
                DROPPED.fetch_add(1, Ordering::Relaxed);
                break;
            }
            to.write_all(part)?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// True when standard error takes a line within that time, or fails at once.
pub(crate) fn are_read(within: Duration) -> bool {
    takes(&stderr().lock(), within)
}

fn takes(to: &StderrLock<'_>, within: Duration) -> bool {
    let within = Timespec::try_from(within).unwrap_or_default();
    let mut ready = [PollFd::new(to, PollFlags::OUT)];
    // What cannot be polled cannot stand still either.
    poll(&mut ready, Some(&within)) != Ok(0)
}
