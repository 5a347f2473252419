//! Exit codes: what the caller can rely on.
//!
//! 0, 1 and 2 as usual; the rest by the names of `sysexits.h` (BSD), which
//! systemd prints by name in its status.

use std::fmt;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// 0: done, nothing to report.
    Fine,
    /// 1: done, and what was looked for was found (`doctor`, `status`).
    Finding,
    /// 2: the command line makes no sense.
    Usage,
    /// 65: an input or a log is not what it should be.
    Data,
    /// 66: an input or the rig file is not there or cannot be read.
    NoInput,
    /// 69: something needed is not available (an interface, a service).
    Unavailable,
    /// 73: the output exists already or cannot be created.
    CannotCreate,
    /// 74: reading or writing failed on the way.
    Io,
    /// 75: failed for now; trying again may help (the log is locked).
    Temporary,
    /// 78: the rig file has mistakes.
    Config,
}

impl Exit {
    /// The number given to the system.
    #[must_use]
    pub fn code(self) -> u8 {
        match self {
            Exit::Fine => 0,
            Exit::Finding => 1,
            Exit::Usage => 2,
            Exit::Data => 65,
            Exit::NoInput => 66,
            Exit::Unavailable => 69,
            Exit::CannotCreate => 73,
            Exit::Io => 74,
            Exit::Temporary => 75,
            Exit::Config => 78,
        }
    }
}

/// Why a command failed, and the exit code that says so.
#[derive(Debug)]
pub struct Failure {
    /// The exit code.
    pub exit: Exit,
    /// What happened, where, and what to do.
    pub error: anyhow::Error,
}

impl Failure {
    /// A failure from a message or an error.
    pub fn new(exit: Exit, error: impl Into<anyhow::Error>) -> Self {
        Failure {
            exit,
            error: error.into(),
        }
    }

    /// A failure from a message.
    pub fn say(
        exit: Exit,
        message: impl fmt::Display + fmt::Debug + Send + Sync + 'static,
    ) -> Self {
        Failure {
            exit,
            error: anyhow::Error::msg(message),
        }
    }
}

/// The chain of causes on one line, outermost first.
impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:#}", self.error)
    }
}
