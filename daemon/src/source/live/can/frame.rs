//! Frames of the socket as the decoder takes them.

use super::stamp::Stamp;
use seep_common::codec::can::{CanFrame, FrameError};
use socketcan::{CanAnyFrame, CanTimestamps, EmbeddedFrame, Frame};
use std::time::UNIX_EPOCH;

/// What came out of the socket.
pub(in crate::source::live) enum Received {
    /// A frame of the bus.
    Frame(CanFrame),
    /// A report of the controller.
    Report(socketcan::CanError),
}

/// Take a frame of the socket apart.
///
/// # Errors
/// None that a kernel can cause: the lengths are checked by both.
pub(in crate::source::live) fn received(frame: CanAnyFrame) -> Result<Received, FrameError> {
    let made = match frame {
        CanAnyFrame::Normal(frame) => {
            CanFrame::new(frame.raw_id(), frame.is_extended(), frame.data())?
        }
        CanAnyFrame::Remote(frame) => {
            CanFrame::new(frame.raw_id(), frame.is_extended(), &[])?.into_remote(frame.dlc() as u8)
        }
        CanAnyFrame::Fd(frame) => {
            let mut made = CanFrame::new(frame.raw_id(), frame.is_extended(), frame.data())?;
            made.fd_flags = Some(frame.flags().bits());
            made
        }
        CanAnyFrame::Error(report) => return Ok(Received::Report(report.into_error())),
    };
    Ok(Received::Frame(made))
}

/// The stamps of a frame in µs.
pub(super) fn stamp(stamps: &CanTimestamps) -> Stamp {
    let wall = stamps.socket.or(stamps.sw);
    let wall = wall.and_then(|at| at.duration_since(UNIX_EPOCH).ok());
    let micros = |time: std::time::Duration| i64::try_from(time.as_micros()).ok();
    Stamp {
        wall_us: wall.and_then(micros),
        own_us: stamps.hw.and_then(micros),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::codec::can::FrameKind;
    use socketcan::{CanDataFrame, CanFdFrame, CanRemoteFrame, ExtendedId, StandardId};
    use std::time::Duration;

    fn frame(of: impl Into<CanAnyFrame>) -> CanFrame {
        match received(of.into()) {
            Ok(Received::Frame(frame)) => frame,
            _ => panic!("a frame"),
        }
    }

    #[test]
    fn frames_keep_their_format_and_their_bytes() {
        let long = ExtendedId::new(0x18FE_582F).expect("29 bits");
        let short = StandardId::new(0x123).expect("11 bits");
        let data = frame(CanDataFrame::new(long, &[1, 2, 3]).expect("fits"));
        assert_eq!((data.id, data.extended), (0x18FE_582F, true));
        assert_eq!((data.data(), data.fd_flags), (&[1, 2, 3][..], None));
        let small = frame(CanDataFrame::new(short, &[9; 8]).expect("fits"));
        assert_eq!(
            (small.id, small.extended, small.length()),
            (0x123, false, 8)
        );
        let remote = frame(CanRemoteFrame::new_remote(short, 4).expect("fits"));
        assert_eq!((remote.kind, remote.length()), (FrameKind::Remote, 4));
        let fd = frame(CanFdFrame::new(long, &[7; 48]).expect("fits"));
        assert_eq!(fd.data(), [7; 48]);
        assert!(fd.fd_flags.is_some());
    }

    #[test]
    fn stamps_in_microseconds() {
        let at = Duration::from_micros(1_790_000_000_123_456);
        let both = CanTimestamps {
            socket: Some(UNIX_EPOCH + at),
            sw: None,
            hw: Some(Duration::from_nanos(77_900)),
        };
        let stamp = stamp(&both);
        assert_eq!(stamp.wall_us, Some(1_790_000_000_123_456));
        assert_eq!(stamp.own_us, Some(77));
    }
}
