//! A conclusion with its evidence, its rivals and the next check.

use serde::{Deserialize, Serialize};

use super::{Cell, Certainty, Severity, Text};
use crate::conclusion::{Conclusion, FindingKind};

/// One measured fact behind a finding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// What was measured, as a phrase.
    pub label: Text,
    /// The measurement.
    pub value: Cell,
    /// What a healthy car would show, or where the number came from.
    pub remark: Option<Text>,
}

/// One explanation among several.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// The explanation, as a phrase.
    pub name: Text,
    /// Its share of the likelihood among all candidates, 0 to 1.
    pub likelihood: f64,
}

/// What to do next to learn more.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextCheck {
    /// The check, as an instruction.
    pub instruction: Text,
    /// What can hurt while doing it; printed with it, never apart.
    pub caution: Option<Text>,
}

/// A conclusion.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// What was concluded.
    pub kind: FindingKind,
    /// Where: a circuit, `tank`, `compressor_1`, …
    pub place: String,
    /// How urgent.
    pub severity: Severity,
    /// How sure.
    pub certainty: Certainty,
    /// The conclusion in one sentence.
    pub sentence: Text,
    /// What was measured.
    pub evidence: Vec<Evidence>,
    /// All explanations considered, most likely first.
    pub candidates: Vec<Candidate>,
    /// What to check next.
    pub next_check: Option<NextCheck>,
    /// What would tell the first two candidates apart.
    pub would_separate: Option<Text>,
}

impl Finding {
    /// A finding without evidence yet; `probability` between 0 and 1.
    #[must_use]
    pub fn new(
        conclusion: &Conclusion,
        severity: Severity,
        probability: f64,
        sentence: impl Into<Text>,
    ) -> Self {
        Finding {
            kind: conclusion.kind(),
            place: conclusion.place().to_string(),
            severity,
            certainty: Certainty::from_probability(probability),
            sentence: sentence.into(),
            evidence: Vec::new(),
            candidates: Vec::new(),
            next_check: None,
            would_separate: None,
        }
    }

    /// Add one measured fact.
    #[must_use]
    pub fn with_evidence(mut self, label: &str, value: impl Into<Cell>) -> Self {
        self.evidence.push(Evidence {
            label: label.into(),
            value: value.into(),
            remark: None,
        });
        self
    }

    /// Add one explanation with its share of the likelihood, 0 to 1. The list
    /// is kept with the most likely first.
    #[must_use]
    pub fn with_candidate(mut self, name: &str, likelihood: f64) -> Self {
        self.candidates.push(Candidate {
            name: name.into(),
            likelihood,
        });
        self.candidates
            .sort_by(|a, b| b.likelihood.total_cmp(&a.likelihood));
        self
    }

    /// Set the next check, with what can hurt while doing it.
    #[must_use]
    pub fn with_next_check(mut self, instruction: &str, caution: Option<&str>) -> Self {
        self.next_check = Some(NextCheck {
            instruction: instruction.into(),
            caution: caution.map(Text::from),
        });
        self
    }

    /// Say what would tell the first two candidates apart.
    #[must_use]
    pub fn with_separation(mut self, sentence: &str) -> Self {
        self.would_separate = Some(sentence.into());
        self
    }
}
