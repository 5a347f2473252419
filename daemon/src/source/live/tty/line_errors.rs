//! What the hardware of a serial line counts: bytes it could not read, and
//! bytes that were lost because nobody took them in time.

use std::ops::Add;
use std::os::fd::{AsRawFd, BorrowedFd};

/// Counts of the driver since it was started.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct LineErrors {
    framing: u32,
    overruns: u32,
    parity: u32,
    breaks: u32,
    buffer_overruns: u32,
}

impl LineErrors {
    /// Every count with its name, as it is recorded.
    pub(super) fn named(self) -> [(&'static str, u64); 5] {
        [
            ("framing_errors", self.framing.into()),
            ("hardware_overruns", self.overruns.into()),
            ("parity_errors", self.parity.into()),
            ("line_breaks", self.breaks.into()),
            ("buffer_overruns", self.buffer_overruns.into()),
        ]
    }

    /// What was added since an earlier look; the driver's counts wrap.
    pub(super) fn since(self, then: Self) -> Self {
        LineErrors {
            framing: self.framing.wrapping_sub(then.framing),
            overruns: self.overruns.wrapping_sub(then.overruns),
            parity: self.parity.wrapping_sub(then.parity),
            breaks: self.breaks.wrapping_sub(then.breaks),
            buffer_overruns: self.buffer_overruns.wrapping_sub(then.buffer_overruns),
        }
    }
}

impl Add for LineErrors {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        LineErrors {
            framing: self.framing.saturating_add(other.framing),
            overruns: self.overruns.saturating_add(other.overruns),
            parity: self.parity.saturating_add(other.parity),
            breaks: self.breaks.saturating_add(other.breaks),
            buffer_overruns: self.buffer_overruns.saturating_add(other.buffer_overruns),
        }
    }
}

/// `struct serial_icounter_struct` of the Linux headers: cts, dsr, rng, dcd, rx,
/// tx, frame, overrun, parity, brk, buf_overrun, and nine reserved words.
type Counters = [i32; 20];

const READ_COUNTERS: rustix::ioctl::Opcode = libc::TIOCGICOUNT as rustix::ioctl::Opcode;

/// Read the counts; `None` where the driver keeps none (a pseudo terminal).
pub(super) fn read(line: &impl AsRawFd) -> Option<LineErrors> {
    let counters = read_raw(line)?;
    let at = |i: usize| counters[i] as u32;
    Some(LineErrors {
        framing: at(6),
        overruns: at(7),
        parity: at(8),
        breaks: at(9),
        buffer_overruns: at(10),
    })
}

#[allow(unsafe_code, reason = "no crate offers this system call")]
fn read_raw(line: &impl AsRawFd) -> Option<Counters> {
    // SAFETY: the line stays open while it is borrowed here; TIOCGICOUNT writes
    // one `serial_icounter_struct`, which is twenty C ints.
    unsafe {
        let line = BorrowedFd::borrow_raw(line.as_raw_fd());
        let getter = rustix::ioctl::Getter::<READ_COUNTERS, Counters>::new();
        rustix::ioctl::ioctl(line, getter).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_that_wrap_still_tell_the_difference() {
        let errors = |framing| LineErrors {
            framing,
            ..LineErrors::default()
        };
        assert_eq!(errors(3).since(errors(u32::MAX)), errors(4));
        assert_eq!((errors(3) + errors(4)).named()[0], ("framing_errors", 7));
    }

    #[test]
    fn a_file_has_no_such_counts() {
        let file = tempfile::tempfile().expect("a place for it");
        assert_eq!(read(&file), None);
    }
}
