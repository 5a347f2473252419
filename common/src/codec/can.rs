//! One frame of a CAN bus, as every source of frames delivers it.

/// Largest identifier of 11 bits.
pub const MAX_STANDARD_ID: u32 = 0x7FF;

/// Largest identifier of 29 bits.
pub const MAX_EXTENDED_ID: u32 = 0x1FFF_FFFF;

/// Payload of a CAN FD frame at most, bytes (ISO 11898-1).
pub const MAX_FD_BYTES: usize = 64;

/// Payload of a classic CAN frame at most, bytes (ISO 11898-1).
pub const MAX_CLASSIC_BYTES: usize = 8;

/// What a frame is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FrameKind {
    /// It carries data.
    Data,
    /// It asks another node for data and carries none.
    Remote,
    /// Not from the bus: the controller reports an error. The identifier holds
    /// the error class bits of the Linux CAN error interface, the data their details.
    Error,
}

/// Which way a frame went, where the log tells it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Direction {
    /// The log does not say.
    #[default]
    Unknown,
    /// Received from the bus.
    Received,
    /// Sent by the machine that kept the log.
    Sent,
}

/// A frame that the bus could not carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FrameError {
    /// The identifier needs more bits than the frame format has.
    #[error(
        "identifier {id:#X} does not fit a {} frame",
        if *extended { "29 bit" } else { "11 bit" }
    )]
    IdTooLarge {
        /// The identifier as given.
        id: u32,
        /// True for 29 bit frames.
        extended: bool,
    },
    /// More data than a frame holds.
    #[error("{bytes} bytes of data do not fit a CAN frame of at most {most} bytes")]
    TooLong {
        /// Bytes given.
        bytes: usize,
        /// Bytes possible.
        most: usize,
    },
}

/// Name of a CAN interface, kept inline (Linux allows 15 bytes).
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct InterfaceName {
    bytes: [u8; 15],
    len: u8,
}

impl InterfaceName {
    /// A name of 1 to 15 printable ASCII characters without spaces.
    ///
    /// ```
    /// use seep_common::codec::can::InterfaceName;
    /// assert_eq!(InterfaceName::new(b"can0").unwrap().as_str(), "can0");
    /// assert!(InterfaceName::new(b"").is_none());
    /// assert!(InterfaceName::new(b"can 0").is_none());
    /// ```
    #[must_use]
    pub fn new(name: &[u8]) -> Option<Self> {
        if name.is_empty() || name.len() > 15 || !name.iter().all(u8::is_ascii_graphic) {
            return None;
        }
        let mut bytes = [0; 15];
        bytes[..name.len()].copy_from_slice(name);
        Some(InterfaceName {
            bytes,
            len: name.len() as u8,
        })
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        std::str::from_utf8(self.as_bytes()).unwrap_or_default()
    }

    /// The name as bytes.
    #[must_use]
    #[inline]
    pub fn as_bytes(&self) -> &[u8] {
        &self.bytes[..usize::from(self.len)]
    }
}

impl Default for InterfaceName {
    #[inline]
    fn default() -> Self {
        let bytes = *b"can0\0\0\0\0\0\0\0\0\0\0\0";
        InterfaceName { bytes, len: 4 }
    }
}

impl std::fmt::Debug for InterfaceName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:?}", self.as_str())
    }
}

/// One frame. Plain bytes, copied freely, no allocation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CanFrame {
    /// When it was seen, µs since 1970-01-01 00:00 UTC by the clock of whoever saw it.
    pub t_us: i64,
    /// Identifier without flag bits.
    pub id: u32,
    /// True for a 29 bit identifier.
    pub extended: bool,
    /// What it is for.
    pub kind: FrameKind,
    /// `Some` for CAN FD, with its flag bits (bit 0: bit rate switch, bit 1: error state).
    pub fd_flags: Option<u8>,
    /// Which way it went.
    pub direction: Direction,
    /// Interface that saw it.
    pub interface: InterfaceName,
    len: u8,
    bytes: [u8; MAX_FD_BYTES],
}

impl CanFrame {
    /// A data frame; more than 8 bytes make it a CAN FD frame.
    ///
    /// # Errors
    /// [`FrameError`] when the identifier or the data do not fit.
    ///
    /// ```
    /// use seep_common::codec::can::CanFrame;
    /// let frame = CanFrame::new(0x18FE_58FE, true, &[3, 20, 123, 19]).unwrap();
    /// assert_eq!(frame.data(), [3, 20, 123, 19]);
    /// assert!(CanFrame::new(0x800, false, &[]).is_err());
    /// ```
    pub fn new(id: u32, extended: bool, data: &[u8]) -> Result<Self, FrameError> {
        let most = if extended {
            MAX_EXTENDED_ID
        } else {
            MAX_STANDARD_ID
        };
        if id > most {
            return Err(FrameError::IdTooLarge { id, extended });
        }
        let mut frame = CanFrame::empty(id, extended, FrameKind::Data);
        if data.len() > MAX_CLASSIC_BYTES {
            frame.fd_flags = Some(0);
        }
        frame.set_data(data)?;
        Ok(frame)
    }

    /// An error report of the controller: error class bits and their details.
    ///
    /// # Errors
    /// [`FrameError::TooLong`] over 64 bytes.
    #[cfg(test)]
    pub(super) fn error_report(class: u32, data: &[u8]) -> Result<Self, FrameError> {
        let mut frame = CanFrame::empty(class & MAX_EXTENDED_ID, false, FrameKind::Error);
        frame.set_data(data)?;
        Ok(frame)
    }

    /// A frame without data; the caller has checked the identifier.
    #[inline]
    pub(super) fn empty(id: u32, extended: bool, kind: FrameKind) -> Self {
        CanFrame {
            t_us: 0,
            id,
            extended,
            kind,
            fd_flags: None,
            direction: Direction::Unknown,
            interface: InterfaceName::default(),
            len: 0,
            bytes: [0; MAX_FD_BYTES],
        }
    }

    /// Replace the payload.
    ///
    /// # Errors
    /// [`FrameError::TooLong`] over 64 bytes.
    pub fn set_data(&mut self, data: &[u8]) -> Result<(), FrameError> {
        if data.len() > MAX_FD_BYTES {
            return Err(FrameError::TooLong {
                bytes: data.len(),
                most: MAX_FD_BYTES,
            });
        }
        self.bytes = [0; MAX_FD_BYTES];
        self.bytes[..data.len()].copy_from_slice(data);
        self.len = data.len() as u8;
        Ok(())
    }

    /// Room for the reader of a log to put its bytes without a second copy.
    #[inline]
    pub(super) fn payload_mut(&mut self) -> (&mut [u8; MAX_FD_BYTES], &mut u8) {
        (&mut self.bytes, &mut self.len)
    }

    /// The payload; empty for a remote frame.
    #[must_use]
    #[inline]
    pub fn data(&self) -> &[u8] {
        let len = if self.kind == FrameKind::Remote {
            0
        } else {
            usize::from(self.len)
        };
        self.bytes.get(..len).unwrap_or_default()
    }

    /// Length as sent: bytes of data, or for a remote frame bytes asked for.
    #[must_use]
    pub fn length(&self) -> u8 {
        self.len
    }

    /// Make it a remote frame that asks for `length` bytes (at most 8).
    #[must_use]
    pub fn into_remote(mut self, length: u8) -> Self {
        self.kind = FrameKind::Remote;
        self.fd_flags = None;
        self.bytes = [0; MAX_FD_BYTES];
        self.len = length.min(MAX_CLASSIC_BYTES as u8);
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_refuses_what_the_bus_cannot_carry() {
        assert!(CanFrame::new(MAX_STANDARD_ID, false, &[0; 8]).is_ok());
        assert!(CanFrame::new(MAX_EXTENDED_ID, true, &[0; 64]).is_ok());
        let error = CanFrame::new(0x2000_0000, true, &[]).expect_err("30 bits");
        assert_eq!(
            error.to_string(),
            "identifier 0x20000000 does not fit a 29 bit frame"
        );
        assert!(CanFrame::new(1, false, &[0; 65]).is_err());
    }

    #[test]
    fn a_remote_frame_has_a_length_and_no_data() {
        let frame = CanFrame::new(1, false, &[1, 2, 3])
            .expect("fits")
            .into_remote(3);
        assert_eq!((frame.length(), frame.data()), (3, &[][..]));
    }

    #[test]
    fn interface_names_keep_to_the_limit_of_the_system() {
        assert!(InterfaceName::new(b"fifteen_letters").is_some());
        assert!(InterfaceName::new(b"sixteen__letters").is_none());
        assert_eq!(InterfaceName::default().as_str(), "can0");
    }
}
