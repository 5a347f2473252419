//! Small text files named by a person.

use std::fs::File;
use std::io::{self, Error, ErrorKind, Read};
use std::path::Path;

/// Reads a small text file whole.
///
/// A FIFO or a device is refused instead of waited for. A file without a size, as
/// every file of `/proc`, counts as empty: it may have no end.
///
/// # Errors
/// The system's; `InvalidInput` for what is no regular file or is larger than
/// `most_bytes`; `InvalidData` for what is not UTF-8.
///
/// ```
/// use seep_common::text_file::read_text;
/// assert!(read_text("/dev/zero".as_ref(), 1_000).is_err());
/// ```
pub fn read_text(path: &Path, most_bytes: u64) -> io::Result<String> {
    let refused = |what: String| Err(Error::new(ErrorKind::InvalidInput, what));
    let facts = std::fs::metadata(path)?;
    if !facts.is_file() {
        return refused("is not a regular file; give the file itself".into());
    }
    if facts.len() == 0 {
        return Ok(String::new());
    }
    let mut text = Vec::new();
    File::open(path)?
        .take(most_bytes.saturating_add(1))
        .read_to_end(&mut text)?;
    if text.len() as u64 > most_bytes {
        return refused(format!("is larger than {most_bytes} bytes, which none is"));
    }
    String::from_utf8(text).map_err(|_| Error::new(ErrorKind::InvalidData, "is not UTF-8"))
}
