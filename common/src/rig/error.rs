//! What is wrong in a rig file, where, and what to do.

/// One problem in a rig file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {key}: {problem}; {remedy}")]
pub struct RigProblem {
    /// Line in the file, from 1.
    pub line: usize,
    /// The key or table concerned, such as `circuit.volume_l`.
    pub key: String,
    /// What is wrong.
    pub problem: String,
    /// What to do about it.
    pub remedy: String,
}

/// A rig that cannot be used, with every problem found.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.list())]
pub struct RigError {
    /// At least one problem.
    pub problems: Vec<RigProblem>,
}

impl RigError {
    fn list(&self) -> String {
        self.problems
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join("\n")
    }
}

/// What is wrong where a key is missing.
pub(super) const MISSING: &str = "this key is missing";

impl RigProblem {
    /// A word that is none of those known: the remedy is the nearest of them.
    #[must_use]
    pub fn unknown_word(
        line: usize,
        key: &str,
        problem: &str,
        word: &str,
        known: &[String],
    ) -> Self {
        RigProblem {
            line,
            key: key.into(),
            problem: problem.into(),
            remedy: nearest_remedy(word, known),
        }
    }
}

/// Line (from 1) of a byte position.
pub(crate) fn line_of(text: &str, byte: usize) -> usize {
    let upto = byte.min(text.len());
    text.as_bytes()[..upto]
        .iter()
        .filter(|&&b| b == b'\n')
        .count()
        + 1
}

/// Turn the parser's message into a problem, adding the nearest known key.
pub(crate) fn from_toml(text: &str, error: &toml::de::Error) -> RigProblem {
    let line = error.span().map_or(1, |span| line_of(text, span.start));
    let message = error.message().trim().to_string();
    let quoted = between_backticks(&message);
    if message.starts_with("unknown field") && !quoted.is_empty() {
        let key = quoted[0].clone();
        let known = &quoted[1..];
        return RigProblem {
            line,
            key: key.clone(),
            problem: "this key is not known here".into(),
            remedy: nearest_remedy(&key, known),
        };
    }
    if message.starts_with("missing field") && !quoted.is_empty() {
        return RigProblem {
            line,
            key: quoted[0].clone(),
            problem: MISSING.into(),
            remedy: "add it to this table".into(),
        };
    }
    let text_of_line = text.lines().nth(line - 1).unwrap_or_default();
    if text_of_line.trim_start().starts_with("[[tank") {
        return RigProblem {
            line,
            key: "tank".into(),
            problem: "a rig has one tank".into(),
            remedy: "tanks joined by an open line count as one: write `[tank]` once, with the sum of their volumes; name the channels of a tank that is shut off `other_…`".into(),
        };
    }
    RigProblem {
        line,
        key: "TOML".into(),
        problem: message.replace('\n', " "),
        remedy: "correct the value or the syntax at this line".into(),
    }
}

/// `did you mean …`, or the list when nothing is near.
pub(super) fn nearest_remedy(word: &str, known: &[String]) -> String {
    let nearest = known
        .iter()
        .map(|k| (strsim::damerau_levenshtein(word, k), k))
        .min_by_key(|(distance, _)| *distance);
    match nearest {
        Some((distance, k)) if distance <= 3.max(word.len() / 3) => format!("did you mean `{k}`?"),
        _ => format!("known here: {}", known.join(", ")),
    }
}

fn between_backticks(message: &str) -> Vec<String> {
    message
        .split('`')
        .skip(1)
        .step_by(2)
        .map(str::to_string)
        .collect()
}
