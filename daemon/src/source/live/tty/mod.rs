//! A serial line: opened for this program alone, found again when it was away.

mod line_errors;
mod unread_input;

use line_errors::LineErrors;
use rustix::fs::{FileType, stat};
use std::path::{Path, PathBuf};
use tokio_serial::{SerialPortBuilderExt, SerialStream};
pub(super) use unread_input::UnreadInput;

/// So many looks in a row must find the device gone before that is believed:
/// udev takes a link away for a moment when it renews it.
const LOOKS: u8 = 2;

/// Cause of a source that cannot be reached.
pub(super) const NO_DEVICE: &str = "the rig gives this source no `device`; add its path";

/// Counts of the hardware, over all times the line was open.
#[derive(Debug, Default)]
pub(super) struct LineTotals {
    before: LineErrors,
    openings: u64,
}

/// An open serial line.
pub(super) struct Tty {
    pub stream: SerialStream,
    path: PathBuf,
    device: u64,
    missed: u8,
    at_open: Option<LineErrors>,
}

impl Tty {
    /// Open a line, 8 data bits, no parity, one stop bit, for this program alone.
    ///
    /// The path may be a link that points to another device each time.
    ///
    /// # Errors
    /// Why not, in plain words.
    pub(super) fn open(path: &str, baud: u32, totals: &mut LineTotals) -> Result<Self, String> {
        let device = device_at(Path::new(path)).ok_or_else(|| missing(path))?;
        let stream = tokio_serial::new(path, baud)
            .open_native_async()
            .map_err(|e| refused(path, baud, &e))?;
        totals.openings += 1;
        let at_open = line_errors::read(&stream);
        Ok(Tty {
            stream,
            path: path.into(),
            device,
            missed: 0,
            at_open,
        })
    }

    /// Opens a line as [`Tty::open`] does, and measures the unread input.
    ///
    /// # Errors
    /// Why not, in plain words.
    pub(super) fn open_with_unread_input(
        path: &str,
        baud: u32,
        totals: &mut LineTotals,
    ) -> Result<(Self, Option<UnreadInput>), String> {
        let unread_input = UnreadInput::measure(path);
        Ok((Self::open(path, baud, totals)?, unread_input))
    }

    /// Look whether the path still leads to the device that is open; a device
    /// can be gone without any error of the open line.
    pub(super) fn is_gone(&mut self) -> bool {
        if device_at(&self.path) == Some(self.device) {
            self.missed = 0;
        } else {
            self.missed += 1;
        }
        self.missed >= LOOKS
    }

    /// Close it; the next one may be another device.
    pub(super) fn close(self, totals: &mut LineTotals) {
        totals.before = totals.before + self.errors();
    }

    fn errors(&self) -> LineErrors {
        match (self.at_open, line_errors::read(&self.stream)) {
            (Some(then), Some(now)) => now.since(then),
            _ => LineErrors::default(),
        }
    }
}

impl LineTotals {
    /// Every count with its name, as it is recorded.
    pub(super) fn named(&self, open: Option<&Tty>) -> Vec<(&'static str, u64)> {
        let now = open.map_or_else(LineErrors::default, Tty::errors);
        let mut named = (self.before + now).named().to_vec();
        named.push(("reopened", self.openings.saturating_sub(1)));
        named
    }
}

/// Number of the character device that a path leads to.
fn device_at(path: &Path) -> Option<u64> {
    let found = stat(path).ok()?;
    let is_device = FileType::from_raw_mode(found.st_mode) == FileType::CharacterDevice;
    is_device.then_some(found.st_rdev)
}

fn missing(path: &str) -> String {
    if Path::new(path).exists() {
        format!("{path} is not a serial line; correct `device` in the rig")
    } else {
        unplugged(path)
    }
}

fn refused(path: &str, baud: u32, error: &tokio_serial::Error) -> String {
    use std::io::ErrorKind;
    use tokio_serial::ErrorKind as Serial;
    match error.kind() {
        Serial::Io(ErrorKind::PermissionDenied) => format!(
            "no permission to open {path}; add the user that runs seepd to the group that owns it"
        ),
        Serial::NoDevice | Serial::Io(ErrorKind::ResourceBusy | ErrorKind::WouldBlock) => {
            format!("{path} is used by another program; stop that one")
        }
        _ => format!("{path} cannot be opened at {baud} baud: {error}"),
    }
}

/// What the end of reading means.
pub(super) fn read_failed(path: &str, error: &std::io::Error) -> String {
    // A tty whose device is gone answers EIO; some drivers say ENODEV or ENXIO.
    match error.raw_os_error() {
        Some(libc::EIO | libc::ENODEV | libc::ENXIO) => unplugged(path),
        _ => format!("{path} cannot be read: {error}"),
    }
}

/// The line has ended, or never was there: one cause for one loss.
pub(super) fn unplugged(path: &str) -> String {
    format!("{path} is not there: unplugged, or without power")
}
