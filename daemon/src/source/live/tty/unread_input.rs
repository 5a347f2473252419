//! What a line held before it was opened.

use rustix::fs::{Mode, OFlags};
use rustix::io::{Errno, ioctl_fionread};
use std::os::fd::OwnedFd;
use std::time::Duration;

/// The kernel's terminal buffer holds this many bytes when it is full
/// (`N_TTY_BUF_SIZE` of Linux, less one); more may wait behind it.
const FULL: usize = 4095;

/// The most that can wait, bytes: the terminal buffer and the 64 KiB that Linux
/// lets a port collect behind it (`tty_buffer_set_limit`), with room.
const LIMIT: usize = 128 * 1024;

/// A full buffer is filled again by the kernel within this, on a busy machine too.
const REFILL: Duration = Duration::from_millis(50);

/// Bytes that were received while nobody, or another program, had the line open.
///
/// They are measured before the line is made ready for reading, so that nothing
/// received afterwards is among them. Nothing tells when they arrived: a reading in
/// them cannot be dated. A port whose last user has closed it holds none, a pseudo
/// terminal and a line that another program holds open do.
pub(in crate::source::live) struct UnreadInput {
    line: OwnedFd,
    bytes: usize,
}

impl UnreadInput {
    /// Measures the unread input of a line; `None` when it cannot be opened.
    pub(super) fn measure(path: &str) -> Option<Self> {
        let flags = OFlags::RDONLY | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
        let line = rustix::fs::open(path, flags, Mode::empty()).ok()?;
        let bytes = usize::try_from(ioctl_fionread(&line).ok()?).unwrap_or(0);
        Some(UnreadInput { line, bytes })
    }

    /// Takes the measured bytes out of the line, and what waits behind a full buffer.
    pub(in crate::source::live) async fn read(self) -> Vec<u8> {
        let mut taken = Vec::new();
        self.read_up_to(self.bytes, &mut taken);
        if self.bytes >= FULL {
            let mut before = 0;
            while taken.len() > before && taken.len() < LIMIT {
                before = taken.len();
                tokio::time::sleep(REFILL).await;
                self.read_up_to(LIMIT - before, &mut taken);
            }
        }
        taken
    }

    /// Reads at most `most` bytes of those that are there.
    fn read_up_to(&self, most: usize, taken: &mut Vec<u8>) {
        let end = taken.len() + most;
        let mut portion = [0; 4096];
        while taken.len() < end {
            let wanted = portion.len().min(end - taken.len());
            match rustix::io::read(&self.line, &mut portion[..wanted]) {
                Ok(n @ 1..) => taken.extend_from_slice(&portion[..n]),
                Err(Errno::INTR) => {}
                // Nothing more, or the line has ended: its reader will see why.
                Ok(_) | Err(_) => break,
            }
        }
    }
}
