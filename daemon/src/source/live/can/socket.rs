//! The socket on a CAN interface: opened to listen only, with stamps, error
//! reports and filters.

use seep_common::codec::decode::IdFilter;
use socketcan::timestamp::{
    SOF_TIMESTAMPING_OPT_CMSG, SOF_TIMESTAMPING_RAW_HARDWARE, SOF_TIMESTAMPING_RX_HARDWARE,
};
use socketcan::{CanAnyFrame, CanFdSocket, CanFilter, CanTimestamps, Socket, SocketOptions};
use std::io;
use tokio::io::Interest;
use tokio::io::unix::AsyncFd;

/// The kernel takes at most so many filters (`CAN_RAW_FILTER_MAX`).
const MOST_FILTERS: usize = 512;

/// Room for frames that wait, bytes: seconds of a full bus. `seepd.sysctl` lets
/// a program without privileges have it.
pub(crate) const WAITING_ROOM: usize = 8 * 1024 * 1024;

/// `SO_MEMINFO` of the Linux headers (`asm-generic/socket.h`), and the place of
/// the count of dropped packets in its answer (`SK_MEMINFO_DROPS`).
const SO_MEMINFO: libc::c_int = 55;
const DROPS_AT: usize = 8;

/// A link that goes down is told as an error, without anything to read.
const WANTED: Interest = Interest::READABLE.add(Interest::ERROR);

/// An open socket.
pub(in crate::source::live) struct Bus(AsyncFd<CanFdSocket>);

impl Bus {
    /// Open an interface by name.
    ///
    /// # Errors
    /// Why not, in plain words.
    pub(in crate::source::live) fn open(
        interface: &str,
        filters: &[IdFilter],
    ) -> Result<Self, String> {
        Self::try_open(interface, filters).map_err(|e| refused(interface, &e))
    }

    fn try_open(interface: &str, filters: &[IdFilter]) -> io::Result<Self> {
        let socket = CanFdSocket::open(interface)?;
        socket.set_nonblocking(true)?;
        socket.set_filters(&kernel_filters(filters))?;
        socket.set_error_filter_accept_all()?;
        socket.set_recv_timestamp(true)?;
        if socket.has_hw_timestamps() {
            let wanted = SOF_TIMESTAMPING_RX_HARDWARE
                | SOF_TIMESTAMPING_RAW_HARDWARE
                | SOF_TIMESTAMPING_OPT_CMSG;
            // Without them the kernel's own stamps do.
            let _ = socket.set_timestamping(wanted);
        }
        // More than the system's limit is for privileged programs only.
        if rustix::net::sockopt::set_socket_recv_buffer_size_force(&socket, WAITING_ROOM).is_err() {
            rustix::net::sockopt::set_socket_recv_buffer_size(&socket, WAITING_ROOM)?;
        }
        // The newer function is `unsafe` for types whose descriptor may change;
        // that of a socket never does.
        #[allow(deprecated, reason = "its successor asks for unsafe code")]
        let watched = AsyncFd::with_interest(socket, WANTED)?;
        Ok(Bus(watched))
    }

    /// Wait until there is something to read, or an error to be told.
    pub(in crate::source::live) async fn ready(&self) -> io::Result<()> {
        self.0.ready(WANTED).await.map(drop)
    }

    /// The next frame, without waiting.
    ///
    /// # Errors
    /// `WouldBlock` when there is none.
    pub(in crate::source::live) fn next(&self) -> io::Result<(CanAnyFrame, CanTimestamps)> {
        match self.0.get_ref().read_frame_with_timestamps() {
            // Asked again in a way that makes `ready` wait for the next frame.
            Err(e) if e.kind() == io::ErrorKind::WouldBlock => {
                self.0.try_io(WANTED, Socket::read_frame_with_timestamps)
            }
            other => other,
        }
    }

    /// Frames dropped because this socket had no more room, since it was opened.
    pub(super) fn drops(&self) -> Option<u64> {
        let mut answer = [0u8; 4 * 9];
        let socket = self.0.get_ref();
        let bytes = socket
            .get_socket_option_bytes(libc::SOL_SOCKET, SO_MEMINFO, &mut answer)
            .ok()?;
        let (words, _) = answer.get(..bytes)?.as_chunks::<4>();
        words.get(DROPS_AT).map(|w| u32::from_ne_bytes(*w).into())
    }
}

/// Filters as the kernel takes them; one that lets everything through when there
/// are too many. Remote frames never pass: they carry no readings.
pub(super) fn kernel_filters(filters: &[IdFilter]) -> Vec<CanFilter> {
    if filters.len() > MOST_FILTERS {
        return vec![CanFilter::new(0, 0)];
    }
    let format = |extended: bool| if extended { libc::CAN_EFF_FLAG } else { 0 };
    (filters.iter())
        .map(|f| {
            let mask = f.mask | libc::CAN_EFF_FLAG | libc::CAN_RTR_FLAG;
            CanFilter::new(f.id | format(f.extended), mask)
        })
        .collect()
}

fn refused(interface: &str, error: &io::Error) -> String {
    if let Some(missing) = missing_support() {
        return missing;
    }
    match error.raw_os_error() {
        Some(libc::ENODEV | libc::ENXIO) => gone(interface),
        Some(libc::EPERM | libc::EACCES) => {
            format!("no permission to listen on {interface}; check what confines this service")
        }
        _ => format!("{interface} cannot be opened: {error}"),
    }
}

/// The interface is not there.
pub(super) fn gone(interface: &str) -> String {
    format!("there is no interface {interface}: unplugged, or its driver is not loaded")
}

/// Why no CAN socket at all can be made, if so.
fn missing_support() -> Option<String> {
    use rustix::net::{AddressFamily, Protocol, SocketType, socket};
    let raw = std::num::NonZeroU32::new(libc::CAN_RAW as u32).map(Protocol::from_raw);
    let why = match socket(AddressFamily::CAN, SocketType::RAW, raw) {
        Err(rustix::io::Errno::AFNOSUPPORT) => {
            "this kernel has no CAN, or the service is not \
             allowed to use it; load the module can, or allow AF_CAN"
        }
        Err(rustix::io::Errno::PROTONOSUPPORT) => {
            "this kernel has CAN but no raw CAN sockets; load the module can_raw"
        }
        _ => return None,
    };
    Some(why.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::codec::j1939::pgn_mask;

    #[test]
    fn filters_name_format_and_group_and_leave_remote_frames_out() {
        let filters = [
            IdFilter {
                id: 0x123,
                mask: 0x7FF,
                extended: false,
            },
            IdFilter {
                id: 0x00FE_5800,
                mask: pgn_mask(0x18FE_582F),
                extended: true,
            },
        ];
        let made = kernel_filters(&filters);
        let passes = |id: u32| {
            made.iter().any(|filter| {
                let f = filter.as_ref();
                id & f.can_mask == f.can_id & f.can_mask
            })
        };
        assert!(passes(0x123));
        assert!(!passes(0x124));
        assert!(!passes(0x123 | libc::CAN_EFF_FLAG), "other format");
        assert!(!passes(0x123 | libc::CAN_RTR_FLAG), "remote");
        assert!(passes(0x18FE_582F | libc::CAN_EFF_FLAG), "by group");
        assert!(passes(0x0CFE_58AA | libc::CAN_EFF_FLAG), "other sender");
        assert!(!passes(0x18FE_592F | libc::CAN_EFF_FLAG), "other group");
    }

    #[test]
    fn too_many_filters_let_everything_through() {
        let filter = IdFilter {
            id: 1,
            mask: 0x7FF,
            extended: false,
        };
        assert_eq!(kernel_filters(&[filter; 512]).len(), 512);
        let all = kernel_filters(&[filter; 513]);
        assert_eq!((all.len(), all[0].as_ref().can_mask), (1, 0));
    }

    /// What this very machine answers: one of the clear words, or a socket.
    #[tokio::test]
    async fn an_interface_that_is_not_there_is_named() {
        let Err(why) = Bus::open("can_none", &[]) else {
            panic!("no such interface");
        };
        let clear = why.contains("this kernel has") || why.contains("no interface can_none");
        assert!(clear, "{why}");
    }
}
