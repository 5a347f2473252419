//! Which files of some folders are logs.

use seep_common::store::{RawFile, SIDE_FILE_ENDINGS};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Folders inside folders looked through at most.
const DEEPEST: usize = 16;

/// What was found.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Found {
    /// Logs, and files named like one, in order of their paths.
    pub(super) logs: Vec<PathBuf>,
    /// Other files, left alone.
    pub(super) others: usize,
}

/// Why no log was looked at.
#[derive(Debug, thiserror::Error)]
pub enum FindError {
    /// A folder or log that is not there.
    #[error("{}: there is no such folder or log", .0.display())]
    NoSuchPlace(PathBuf),
    /// No file is a log by its name or content.
    #[error(
        "{0}: no log in it; seepd writes them as it is told by `--log`, usually with the ending .db"
    )]
    NoLogs(String),
    /// A folder that cannot be listed.
    #[error("{}: cannot list this folder", .path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
}

/// Look through folders and the folders in them; a file named itself counts as a log.
///
/// # Errors
/// [`FindError`]; of a folder inside a folder that cannot be listed, too.
pub(super) fn find(places: &[PathBuf]) -> Result<Found, FindError> {
    let mut found = Found::default();
    for place in places {
        if place.is_dir() {
            folder(place, DEEPEST, &mut found)?;
        } else if place.exists() {
            found.logs.push(place.clone());
        } else {
            return Err(FindError::NoSuchPlace(place.clone()));
        }
    }
    found.logs.sort();
    found.logs.dedup();
    if found.logs.is_empty() {
        let names: Vec<String> = places.iter().map(|p| p.display().to_string()).collect();
        return Err(FindError::NoLogs(names.join(", ")));
    }
    Ok(found)
}

fn folder(path: &Path, deeper: usize, found: &mut Found) -> Result<(), FindError> {
    let cannot = |source| FindError::Folder {
        path: path.to_path_buf(),
        source,
    };
    for entry in path.read_dir().map_err(cannot)? {
        let entry = entry.map_err(cannot)?;
        let kind = entry.file_type().map_err(cannot)?;
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        if hidden {
            continue;
        }
        // A link to a folder is not followed: it could lead in a circle.
        if kind.is_dir() && deeper > 0 {
            folder(&entry.path(), deeper - 1, found)?;
        } else if entry.path().is_file() {
            if is_log(&entry.path()) {
                found.logs.push(entry.path());
            } else if !is_side_file(&entry.path()) {
                found.others += 1;
            }
        }
    }
    Ok(())
}

/// A log by its name, or a database whatever its name.
///
/// **Source**: SQLite file format, section 1.3: the first 16 bytes.
fn is_log(path: &Path) -> bool {
    if path.extension().is_some_and(|end| end == "db") {
        return true;
    }
    let mut start = [0; 16];
    let read = RawFile::open(path).and_then(|mut file| file.read_exact(&mut start));
    read.is_ok() && &start == b"SQLite format 3\0"
}

/// What SQLite keeps beside a log.
fn is_side_file(path: &Path) -> bool {
    let name = path.to_string_lossy();
    SIDE_FILE_ENDINGS.iter().any(|end| name.ends_with(end))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logs_are_known_by_name_or_content_and_in_folders_of_folders() {
        let top = tempfile::tempdir().expect("scratch");
        let write = |name: &str, content: &[u8]| {
            let path = top.path().join(name);
            std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
            std::fs::write(path, content).expect("written");
        };
        write("b.db", b"");
        write("a/visit.2", b"SQLite format 3\0 and more");
        write("a/visit.2-wal", b"x");
        write("a/bill.txt", b"no log");
        write(".hidden.db", b"");
        let found = find(&[top.path().to_path_buf()]).expect("readable");
        let names: Vec<_> = (found.logs.iter())
            .map(|p| p.strip_prefix(top.path()).expect("inside").to_path_buf())
            .collect();
        assert_eq!(names, [Path::new("a/visit.2"), Path::new("b.db")]);
        assert_eq!(found.others, 1);
    }

    #[test]
    fn nothing_to_look_at_is_told() {
        let top = tempfile::tempdir().expect("scratch");
        let said = find(&[top.path().to_path_buf()]).expect_err("empty");
        assert!(said.to_string().contains("no log in it"), "{said}");
        let said = find(&[top.path().join("none")]).expect_err("not there");
        assert!(matches!(said, FindError::NoSuchPlace(_)));
    }
}
