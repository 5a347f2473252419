//! Where readings come from.

/// One source of readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// The rig's own name for it; channels refer to it.
    pub name: String,
    /// What it is and how to reach it.
    pub kind: SourceKind,
    /// A live source silent for this long is reported as a gap, s.
    pub silence_s: f64,
    /// It has power, or speaks, only while the ignition is on: its silence is
    /// no fault unless something else says that the vehicle is awake.
    pub sleeps_with_ignition: bool,
}

/// What a source is.
#[derive(Debug, Clone, PartialEq)]
pub enum SourceKind {
    /// A CAN interface of the system, decoded by databases.
    SocketCan {
        /// Interface name, such as `can0`.
        interface: String,
        /// DBC files or built-in databases (`builtin:j1939-air`).
        dbc: Vec<String>,
    },
    /// NMEA 0183 sentences with XDR transducer measurements on a serial line.
    Nmea {
        /// Device path; only a live recording needs it.
        device: Option<String>,
        /// Line speed, baud.
        baud: u32,
    },
    /// A Modbus RTU line that is polled.
    Modbus {
        /// Device path; only a live recording needs it.
        device: Option<String>,
        /// Line speed, baud.
        baud: u32,
        /// Address of the station.
        unit_id: u8,
        /// Time between polls, ms.
        poll_ms: u64,
        /// Time allowed for an answer, ms.
        timeout_ms: u64,
    },
    /// A table written by another logger; replay only.
    Csv {
        /// Column with the time.
        time_column: String,
        /// `unix_s`, `unix_ms`, or a strptime pattern such as `%Y-%m-%d %H:%M:%S`.
        time_format: String,
        /// Time zone of the times, IANA name; `UTC` unless said.
        zone: String,
        /// Field delimiter.
        delimiter: char,
    },
}

impl SourceKind {
    /// True when a recorder can read it as it happens: a bus, or a line with a
    /// device.
    #[must_use]
    pub fn is_live(&self) -> bool {
        match self {
            SourceKind::SocketCan { .. } => true,
            SourceKind::Nmea { device, .. } | SourceKind::Modbus { device, .. } => device.is_some(),
            SourceKind::Csv { .. } => false,
        }
    }

    /// The word a rig uses for this kind.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            SourceKind::SocketCan { .. } => "socketcan",
            SourceKind::Nmea { .. } => "nmea",
            SourceKind::Modbus { .. } => "modbus",
            SourceKind::Csv { .. } => "csv",
        }
    }
}
