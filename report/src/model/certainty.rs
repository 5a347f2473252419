//! How sure, how urgent, and the one sentence that says both.

use super::Text;
use serde::{Deserialize, Serialize};

/// What the reader should do about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Nothing to do.
    Fine,
    /// The data does not allow an answer.
    Unknown,
    /// Keep an eye on it.
    Watch,
    /// Do something.
    Act,
}

impl Severity {
    /// The word printed before a verdict or a finding.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Severity::Fine => "fine",
            Severity::Unknown => "unknown",
            Severity::Watch => "watch",
            Severity::Act => "act",
        }
    }
}

/// Probability in words.
///
/// **Source**: the calibrated scale of the IPCC's guidance note on uncertainty
/// (Mastrandrea and others 2010, table 1), with "nearly certain" for its "virtually
/// certain". From memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CertaintyWord {
    /// No probability could be given.
    Open,
    /// Below 10 %.
    VeryUnlikely,
    /// 10 % to 33 %.
    Unlikely,
    /// 33 % to 66 %.
    AboutEven,
    /// 66 % to 90 %.
    Likely,
    /// 90 % to 99 %.
    VeryLikely,
    /// 99 % and more.
    NearlyCertain,
}

impl CertaintyWord {
    /// The words as printed.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            CertaintyWord::Open => "open",
            CertaintyWord::VeryUnlikely => "very unlikely",
            CertaintyWord::Unlikely => "unlikely",
            CertaintyWord::AboutEven => "about as likely as not",
            CertaintyWord::Likely => "likely",
            CertaintyWord::VeryLikely => "very likely",
            CertaintyWord::NearlyCertain => "nearly certain",
        }
    }
}

/// A probability and the word for it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Certainty {
    /// The word.
    pub word: CertaintyWord,
    /// The probability, percent; none when it could not be computed.
    pub percent: Option<f64>,
}

impl Certainty {
    /// No probability can be given.
    pub const OPEN: Certainty = Certainty {
        word: CertaintyWord::Open,
        percent: None,
    };

    /// From a probability between 0 and 1; anything else is [`Certainty::OPEN`].
    ///
    /// ```
    /// use seep_report::model::{Certainty, CertaintyWord};
    /// assert_eq!(Certainty::from_probability(0.97).word, CertaintyWord::VeryLikely);
    /// assert_eq!(Certainty::from_probability(f64::NAN), Certainty::OPEN);
    /// ```
    #[must_use]
    pub fn from_probability(probability: f64) -> Self {
        let word = match probability {
            p if !(0.0..=1.0).contains(&p) => return Certainty::OPEN,
            p if p < 0.10 => CertaintyWord::VeryUnlikely,
            p if p < 0.33 => CertaintyWord::Unlikely,
            p if p < 0.66 => CertaintyWord::AboutEven,
            p if p < 0.90 => CertaintyWord::Likely,
            p if p < 0.99 => CertaintyWord::VeryLikely,
            _ => CertaintyWord::NearlyCertain,
        };
        Certainty {
            word,
            percent: Some(probability * 100.0),
        }
    }
}

/// The first line of every report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// One sentence a person can act on.
    pub sentence: Text,
    /// How sure.
    pub certainty: Certainty,
    /// How urgent.
    pub severity: Severity,
}

impl Verdict {
    /// A verdict with a probability between 0 and 1.
    #[must_use]
    pub fn new(severity: Severity, probability: f64, sentence: impl Into<Text>) -> Self {
        Verdict {
            sentence: sentence.into(),
            certainty: Certainty::from_probability(probability),
            severity,
        }
    }

    /// The data does not allow a verdict; the sentence says what is missing.
    #[must_use]
    pub fn unknown(sentence: impl Into<Text>) -> Self {
        Verdict {
            sentence: sentence.into(),
            certainty: Certainty::OPEN,
            severity: Severity::Unknown,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_follow_the_probability() {
        let cases = [
            (0.0, CertaintyWord::VeryUnlikely),
            (0.10, CertaintyWord::Unlikely),
            (0.5, CertaintyWord::AboutEven),
            (0.66, CertaintyWord::Likely),
            (0.95, CertaintyWord::VeryLikely),
            (0.99, CertaintyWord::NearlyCertain),
            (1.0, CertaintyWord::NearlyCertain),
            (-0.1, CertaintyWord::Open),
            (1.1, CertaintyWord::Open),
        ];
        for (probability, word) in cases {
            assert_eq!(Certainty::from_probability(probability).word, word);
        }
    }

    #[test]
    fn act_outranks_everything() {
        assert!(Severity::Act > Severity::Watch);
        assert!(Severity::Watch > Severity::Unknown);
        assert!(Severity::Unknown > Severity::Fine);
    }
}
