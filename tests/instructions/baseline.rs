//! The counts noted before, and what a new count is against them.

use crate::Failure;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

/// Counts by case, and the compiler whose code they are of.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Baseline {
    pub(crate) compiler: String,
    pub(crate) machine: String,
    pub(crate) instructions: BTreeMap<String, u64>,
}

impl Baseline {
    /// Of the compiler at hand, without counts.
    pub(crate) fn of_this_compiler() -> Result<Self, Failure> {
        let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
        let said = Command::new(rustc).arg("-vV").output();
        let said = said.map_err(|e| Failure::Run(format!("rustc -vV: {e}")))?;
        let said = String::from_utf8_lossy(&said.stdout).into_owned();
        let machine = said.lines().find_map(|line| line.strip_prefix("host: "));
        Ok(Baseline {
            compiler: said.lines().next().unwrap_or_default().into(),
            machine: machine.unwrap_or_default().into(),
            instructions: BTreeMap::new(),
        })
    }

    pub(crate) fn read(path: &Path) -> Result<Self, Failure> {
        let at = |e: &dyn std::fmt::Display| {
            Failure::Data(format!("{}: {e}; --renew writes it anew", path.display()))
        };
        let text = std::fs::read_to_string(path).map_err(|e| at(&e))?;
        toml::from_str(&text).map_err(|e| at(&e))
    }

    pub(crate) fn write(&self, path: &Path) -> Result<(), Failure> {
        let mut text = format!(
            "# Instructions of the programs of the test build, by callgrind, as\n\
             # `tests/instructions/run` counts them; `tests/instructions/run --renew`\n\
             # after a change that is meant to cost more, with the reason in the commit.\n\
             compiler = \"{}\"\nmachine = \"{}\"\n\n[instructions]\n",
            self.compiler, self.machine
        );
        for (name, count) in &self.instructions {
            text += &format!("{name} = {count}\n");
        }
        std::fs::write(path, text).map_err(|e| Failure::Data(format!("{}: {e}", path.display())))
    }

    /// Take what a file notes of other cases, as far as it is comparable.
    pub(crate) fn keep_others(&mut self, path: &Path) {
        if let Ok(old) = Baseline::read(path)
            && old.differs(self).is_none()
        {
            for (name, count) in old.instructions {
                self.instructions.entry(name).or_insert(count);
            }
        }
    }

    /// Why counts of the two cannot be compared.
    pub(crate) fn differs(&self, other: &Self) -> Option<String> {
        let same = self.compiler == other.compiler && self.machine == other.machine;
        (!same).then(|| {
            format!(
                "noted with {} for {}, this is {} for {}",
                self.compiler, self.machine, other.compiler, other.machine
            )
        })
    }

    /// This count against the one noted.
    pub(crate) fn judge(&self, case: &str, count: u64, most: f64) -> Judged {
        let Some(&noted) = self.instructions.get(case) else {
            return Judged::New;
        };
        let ratio = count as f64 / noted as f64;
        // A noted 0 gives no number, and that is no pass.
        match ratio <= most {
            true => Judged::Within(ratio),
            false => Judged::Grown(ratio),
        }
    }
}

/// What a count is against the one noted: times as many.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Judged {
    Within(f64),
    Grown(f64),
    /// None was noted.
    New,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noted() -> Baseline {
        Baseline {
            compiler: "rustc 1.2.3".into(),
            machine: "invented".into(),
            instructions: [("trip".to_string(), 1_000_000)].into(),
        }
    }

    #[test]
    fn growth_beyond_the_ratio_is_called_out_and_no_other() {
        let judged = |count| noted().judge("trip", count, 1.3);
        assert_eq!(judged(500_000), Judged::Within(0.5));
        assert_eq!(judged(1_300_000), Judged::Within(1.3));
        assert!(matches!(judged(1_300_001), Judged::Grown(_)));
        assert_eq!(noted().judge("other", 1, 1.3), Judged::New);
    }

    #[test]
    fn a_count_noted_as_nothing_is_no_pass() {
        let mut nothing = noted();
        nothing.instructions.insert("trip".into(), 0);
        assert!(matches!(nothing.judge("trip", 0, 1.3), Judged::Grown(_)));
    }

    #[test]
    fn what_is_written_is_read_again() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("baseline.toml");
        noted().write(&file).expect("written");
        assert_eq!(Baseline::read(&file).expect("read"), noted());
    }

    #[test]
    fn counts_of_another_compiler_are_not_compared() {
        let mut other = noted();
        assert_eq!(noted().differs(&other), None);
        other.compiler = "rustc 1.2.4".into();
        let why = noted().differs(&other).expect("different");
        assert!(why.contains("1.2.3") && why.contains("1.2.4"), "{why}");
    }
}
