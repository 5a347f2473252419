//! Characters that stand in printed numbers.

/// Space that must not break a line, between a number and its unit.
pub(crate) const NO_BREAK: char = '\u{a0}';

/// Sign for a value that is not there.
pub(crate) const MISSING: &str = "—";
