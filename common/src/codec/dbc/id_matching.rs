//! Whole identifiers or parameter groups.

/// How identifiers of frames are compared with those of the database.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum IdMatching {
    /// As the database declares: by parameter group where the attribute
    /// `VFrameFormat` of a message is `J1939PG`, or, when it is not set for the
    /// message, where `ProtocolType` of the database is `J1939`.
    #[default]
    AsDeclared,
    /// By the whole identifier.
    Exact,
    /// By parameter group for every 29 bit message.
    ByGroup,
}
