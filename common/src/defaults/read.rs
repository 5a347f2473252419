//! Reading the file of defaults.

use super::Defaults;
use crate::rig::RigProblem;
use crate::text_file::read_text;
use std::fmt::Write as _;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// No file of defaults is larger.
const MOST_BYTES: u64 = 1 << 20;

/// Reason why a file of defaults cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum DefaultsError {
    /// The file has mistakes.
    #[error("{}", listed(.path, .problems))]
    Mistakes {
        /// The file.
        path: PathBuf,
        /// Every mistake, with its line.
        problems: Vec<RigProblem>,
    },
    /// The file is there, but cannot be read.
    #[error("{}: {source}", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },
}

impl Defaults {
    /// Reads the file of the user this process runs for; empty without a file.
    ///
    /// # Errors
    /// [`DefaultsError`] when the file has mistakes or cannot be read.
    pub fn of_this_user() -> Result<Self, DefaultsError> {
        let folder = |name: &str| std::env::var_os(name).map(PathBuf::from);
        let (config, home) = (folder("XDG_CONFIG_HOME"), folder("HOME"));
        match Self::path(config.as_deref(), home.as_deref()) {
            Some(path) => Self::read(&path),
            None => Ok(Self::default()),
        }
    }

    /// Reads a file of defaults; empty when there is none, or when its folder may
    /// not be entered.
    ///
    /// # Errors
    /// [`DefaultsError`] when the file has mistakes or cannot be read.
    pub fn read(path: &Path) -> Result<Self, DefaultsError> {
        let text = match read_text(path, MOST_BYTES) {
            Ok(text) => text,
            Err(e) if [ErrorKind::NotFound, ErrorKind::NotADirectory].contains(&e.kind()) => {
                return Ok(Self::default());
            }
            // The home of another user, as for a service or under `su`.
            Err(_) if out_of_reach(path) => return Ok(Self::default()),
            Err(source) => {
                return Err(DefaultsError::Unreadable {
                    path: path.into(),
                    source,
                });
            }
        };
        Self::parse(&text).map_err(|problems| DefaultsError::Mistakes {
            path: path.into(),
            problems,
        })
    }
}

/// True when even the existence of the file is hidden from this user.
fn out_of_reach(path: &Path) -> bool {
    let looked = path.symlink_metadata();
    looked.is_err_and(|e| e.kind() == ErrorKind::PermissionDenied)
}

fn listed(path: &Path, problems: &[RigProblem]) -> String {
    let mut text = String::new();
    for problem in problems {
        let parting = if text.is_empty() { "" } else { "\n" };
        let _ = write!(text, "{parting}{}: {problem}", path.display());
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::defaults::PressureChoice;

    #[test]
    fn a_missing_file_is_no_mistake_and_every_mistake_is_listed() {
        let folder = tempfile::tempdir().expect("scratch");
        let path = folder.path().join("seep.toml");
        assert_eq!(Defaults::read(&path).expect("none"), Defaults::default());
        assert_eq!(
            Defaults::read(&path.join("below a file")).expect("none"),
            Defaults::default()
        );
        std::fs::write(&path, "unit = \"psi\"\n").expect("written");
        let read = Defaults::read(&path).expect("read");
        assert_eq!(read.unit, Some(PressureChoice::Psi));
        std::fs::write(&path, "unti = \"psi\"\nlenght = \"in\"\n").expect("written");
        let refusal = Defaults::read(&path).expect_err("two mistakes").to_string();
        let lines: Vec<_> = refusal.lines().collect();
        assert_eq!(lines.len(), 2, "{refusal}");
        assert!(
            lines.iter().all(|l| l.contains("seep.toml: line ")),
            "{refusal}"
        );
        // A folder of that name can be seen, but not read as text.
        let folder = folder.path().join("folder");
        std::fs::create_dir(&folder).expect("made");
        assert!(matches!(
            Defaults::read(&folder),
            Err(DefaultsError::Unreadable { .. })
        ));
    }
}
