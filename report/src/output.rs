//! The output edge: standard output or a file, whole or not at all.
//!
//! A file is written beside its target and moved into place, so a reader
//! never meets half a report. A reader that hangs up (a closed pipe) is no
//! fault. A recording is never overwritten.

use seep_common::store::SIDE_FILE_ENDINGS;
use seep_common::text::escape_hidden;
use std::borrow::Cow;
use std::ffi::OsStr;
use std::fs::{self, File, Permissions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// Where the report goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Destination {
    /// Standard output.
    Stdout,
    /// A file.
    File(PathBuf),
}

/// Why the report could not be written.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The target is the log the report was made from.
    #[error("{}: this is the log being read; choose another name for --out", .0.display())]
    WouldOverwriteLog(PathBuf),
    /// The target is some other SQLite database.
    #[error("{}: this is a database, perhaps a recording; choose another name for --out or move it away first", .0.display())]
    WouldOverwriteDatabase(PathBuf),
    /// The folder of the target does not exist.
    #[error("{}: its folder does not exist; create it first", .0.display())]
    NoSuchFolder(PathBuf),
    /// The target is a folder.
    #[error("{}: this is a folder; name a file in it", .0.display())]
    IsFolder(PathBuf),
    /// The system refused.
    #[error("{}: cannot write the report", .path.display())]
    Write {
        /// The target.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Standard output refused.
    #[error("cannot write the report to standard output")]
    Stdout(#[source] io::Error),
}

impl Destination {
    /// From the value of `--out`: none and `-` are standard output.
    #[must_use]
    pub fn from_option(out: Option<&Path>) -> Self {
        match out {
            Some(path) if path.as_os_str() != OsStr::new("-") => {
                Destination::File(path.to_path_buf())
            }
            _ => Destination::Stdout,
        }
    }
}

/// Write a finished report.
///
/// Escape sequences for colour stay only on a terminal that wants them
/// (`NO_COLOR`, `TERM=dumb` and pipes are respected); a file gets none.
///
/// # Errors
/// [`OutputError`]; a closed pipe is not an error.
pub fn write(text: &str, to: &Destination, log: &Path) -> Result<(), OutputError> {
    let text = &*escape_hidden(text);
    match to {
        Destination::Stdout => write_stdout(text),
        Destination::File(path) => {
            let plain = if is_plain(text) {
                Cow::Borrowed(text)
            } else {
                Cow::Owned(anstream::adapter::strip_str(text).to_string())
            };
            write_file(path, log, &mut |out| out.write_all(plain.as_bytes()))
        }
    }
}

/// Write something as it comes into being, with the same care.
///
/// # Errors
/// [`OutputError`]; a closed pipe is not an error.
pub fn write_with(to: &Destination, log: &Path, fill: Fill) -> Result<(), OutputError> {
    match to {
        Destination::Stdout => {
            let mut out = io::BufWriter::new(io::stdout());
            let done = fill(&mut out).and_then(|()| out.flush());
            closed_pipe_is_fine(done).map_err(OutputError::Stdout)
        }
        Destination::File(path) => write_file(path, log, fill),
    }
}

fn write_stdout(text: &str) -> Result<(), OutputError> {
    let whole = |out: &mut dyn Write| out.write_all(text.as_bytes()).and_then(|()| out.flush());
    let done = if is_plain(text) {
        whole(&mut io::stdout().lock())
    } else {
        whole(&mut anstream::stdout().lock())
    };
    closed_pipe_is_fine(done).map_err(OutputError::Stdout)
}

/// Whether there is nothing to strip: a report in JSON holds megabytes and no colour.
fn is_plain(text: &str) -> bool {
    text.bytes().all(|b| b >= b' ' || b.is_ascii_whitespace())
}

/// A reader that hangs up has read enough.
fn closed_pipe_is_fine(result: io::Result<()>) -> io::Result<()> {
    match result {
        Err(e) if e.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other,
    }
}

/// What fills an output.
pub type Fill<'a> = &'a mut dyn FnMut(&mut (dyn Write + Send)) -> io::Result<()>;

fn write_file(path: &Path, log: &Path, fill: Fill) -> Result<(), OutputError> {
    let target = target_of(path)?;
    refuse_recording(path, &target, log)?;
    let written = match fs::metadata(&target) {
        // A pipe or a device is written to, never replaced by a file.
        Ok(there) if !there.is_file() && !is_shared_folder_of(&target) => {
            let open = fs::OpenOptions::new().write(true).open(&target);
            closed_pipe_is_fine(open.and_then(|f| {
                let mut out = io::BufWriter::new(f);
                fill(&mut out).and_then(|()| out.flush())
            }))
        }
        Ok(there) if there.is_file() && !is_link(&target) => {
            replace(&target, fill, Some(there.permissions()))
        }
        Ok(_) => replace(&target, fill, None),
        Err(_) => replace(&target, fill, None),
    };
    written.map_err(|source| OutputError::Write {
        path: path.to_path_buf(),
        source,
    })
}

/// The name to write to, its folder resolved so that two names of one file
/// compare equal.
///
/// A link to a file is replaced, not followed: whoever may write to the folder
/// could have planted it. A link to a pipe or a terminal (`/dev/stdout`) is
/// followed, except out of a folder that others may write to.
fn target_of(path: &Path) -> Result<PathBuf, OutputError> {
    if path.is_dir() && !(is_link(path) && is_shared_folder_of(path)) {
        return Err(OutputError::IsFolder(path.to_path_buf()));
    }
    if is_link(path)
        && !is_shared_folder_of(path)
        && let Ok(target) = path.canonicalize()
        && !target.is_file()
    {
        return Ok(target);
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    match (folder.canonicalize(), path.file_name()) {
        (Ok(folder), Some(name)) if folder.is_dir() => Ok(folder.join(name)),
        _ => Err(OutputError::NoSuchFolder(path.to_path_buf())),
    }
}

fn is_link(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok_and(|found| found.is_symlink())
}

/// True when others than the owner may make files where `path` lies.
fn is_shared_folder_of(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt;
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    fs::metadata(folder).is_ok_and(|found| found.permissions().mode() & 0o022 != 0)
}

/// Refuse the log under any of its names, its side files, and any database.
fn refuse_recording(path: &Path, target: &Path, log: &Path) -> Result<(), OutputError> {
    let log_real = log.canonicalize().unwrap_or_else(|_| log.to_path_buf());
    let side_files = SIDE_FILE_ENDINGS.map(|end| {
        let mut name = log_real.clone().into_os_string();
        name.push(end);
        PathBuf::from(name)
    });
    if same_file(target, &log_real)
        || is_side_file(target)
        || side_files.iter().any(|side| side == target)
    {
        return Err(OutputError::WouldOverwriteLog(path.to_path_buf()));
    }
    if is_database(target) {
        return Err(OutputError::WouldOverwriteDatabase(path.to_path_buf()));
    }
    Ok(())
}

/// True for what SQLite keeps beside a database.
fn is_side_file(target: &Path) -> bool {
    let Some(name) = target.to_str() else {
        return false;
    };
    SIDE_FILE_ENDINGS.iter().any(|end| {
        let database = name.strip_suffix(end);
        database.is_some_and(|path| is_database(Path::new(path)))
    })
}

/// True for two names of one file, hard links included.
fn same_file(a: &Path, b: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (fs::metadata(a), fs::metadata(b)) {
        (Ok(a), Ok(b)) => (a.dev(), a.ino()) == (b.dev(), b.ino()),
        _ => a == b,
    }
}

/// True for a regular file that starts like an SQLite database.
///
/// **Source**: SQLite file format, section 1.3: the first 16 bytes.
fn is_database(path: &Path) -> bool {
    if !path.is_file() {
        return false;
    }
    let mut start = [0; 16];
    File::open(path)
        .and_then(|mut f| f.read_exact(&mut start))
        .is_ok_and(|()| &start == b"SQLite format 3\0")
}

/// Write beside the target, then move into place.
fn replace(target: &Path, fill: Fill, keep: Option<Permissions>) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut part = tempfile::Builder::new()
        .prefix(".seep-report-")
        .suffix(".part")
        // What a plainly created file would get; the umask still applies.
        .permissions(Permissions::from_mode(0o666))
        .tempfile_in(folder)?;
    let mut out = io::BufWriter::new(part.as_file_mut());
    fill(&mut out)?;
    out.flush()?;
    drop(out);
    if let Some(permissions) = keep {
        part.as_file().set_permissions(permissions)?;
    }
    part.as_file().sync_all()?;
    part.persist(target).map_err(|e| e.error)?;
    Ok(())
}

#[cfg(test)]
mod tests;
