//! Channels that cannot be decoded as the rig asks.

/// One channel and what is wrong with its decode rule.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("channel `{channel}`: {problem}; {remedy}")]
pub struct DecodeProblem {
    /// Name of the channel.
    pub channel: String,
    /// What is wrong.
    pub problem: String,
    /// What to do about it.
    pub remedy: String,
}

/// Every channel of a source that cannot be decoded.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.list())]
pub struct DecodeError {
    /// At least one problem.
    pub problems: Vec<DecodeProblem>,
}

impl DecodeError {
    fn list(&self) -> String {
        self.problems
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join("\n")
    }

    /// The value, unless there are problems.
    pub(super) fn unless<T>(problems: Vec<DecodeProblem>, value: T) -> Result<T, DecodeError> {
        if problems.is_empty() {
            Ok(value)
        } else {
            Err(DecodeError { problems })
        }
    }
}
