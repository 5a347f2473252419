//! A finding of the doctor.

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Grade {
    /// As it should be.
    Good,
    /// Could not be seen from here.
    Unknown,
    /// Works, with a loss that can be named.
    Weak,
    /// Recording will fail or lose data.
    Bad,
}

impl Grade {
    /// The word on the page.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Grade::Good => "good",
            Grade::Unknown => "unknown",
            Grade::Weak => "weak",
            Grade::Bad => "bad",
        }
    }
}

/// What was found, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Finding {
    /// How bad.
    pub grade: Grade,
    /// What was looked at.
    pub what: String,
    /// What was seen.
    pub seen: String,
    /// What to do; empty when all is well.
    pub remedy: String,
}

impl Finding {
    /// All is well.
    pub(crate) fn good(what: impl Into<String>, seen: impl Into<String>) -> Self {
        Finding::new(Grade::Good, what, seen, "")
    }

    /// Something to do.
    pub(crate) fn new(
        grade: Grade,
        what: impl Into<String>,
        seen: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Finding {
            grade,
            what: what.into(),
            seen: seen.into(),
            remedy: remedy.into(),
        }
    }
}
