//! One entry: a file named after its key, with a checksum over all of it.

use super::folder::is_own;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs::OpenOptions;
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use tempfile::NamedTempFile;

/// First bytes of every entry: the form in which it is written.
const MAGIC: &[u8; 16] = b"seep cache 1\0\0\0\0";

/// Bytes of a SHA-256.
const HASH: usize = 32;

/// Magic, key and checksum.
const HEAD: usize = MAGIC.len() + 2 * HASH;

/// All entries together take at most so many bytes: the oldest go first.
const MOST_BYTES: u64 = 512 << 20;

/// What the names of entries end with.
const ENDING: &str = "entry";

/// Beginning of a file that is still being written, and age at which nobody writes it more.
const PART: &str = ".part-";
const PART_IS_LEFT: Duration = Duration::from_secs(3600);

/// Hash of everything that a value depends on.
pub(super) struct Key([u8; HASH]);

impl Key {
    /// The length of each part goes in, so that no two lists of parts look the same.
    pub(super) fn new(kind: &str, program: &[u8], parts: &[&[u8]]) -> Self {
        let mut state = Sha256::new();
        for part in [kind.as_bytes(), program].iter().chain(parts) {
            state.update((part.len() as u64).to_le_bytes());
            state.update(part);
        }
        Key(state.finalize().into())
    }

    fn path(&self, folder: &Path) -> PathBuf {
        let hex = self.0.iter().fold(String::new(), |mut out, byte| {
            let _ = write!(out, "{byte:02x}");
            out
        });
        folder.join(format!("{hex}.{ENDING}"))
    }
}

/// The value of a key, if a whole entry of our own is there.
pub(super) fn read(folder: &Path, key: &Key) -> Option<Vec<u8>> {
    let mut options = OpenOptions::new();
    // No link is followed, and no pipe waited for.
    let flags = rustix::fs::OFlags::NOFOLLOW | rustix::fs::OFlags::NONBLOCK;
    options.read(true).custom_flags(flags.bits().cast_signed());
    let mut file = options.open(key.path(folder)).ok()?;
    let metadata = file.metadata().ok()?;
    if !metadata.is_file() || !is_own(&metadata) {
        return None;
    }
    let mut bytes = Vec::with_capacity(usize::try_from(metadata.len()).ok()?);
    file.read_to_end(&mut bytes).ok()?;
    value(bytes, key)
}

/// The value within the bytes of an entry.
fn value(mut bytes: Vec<u8>, key: &Key) -> Option<Vec<u8>> {
    let (head, value) = bytes.split_at_checked(HEAD)?;
    let (magic, rest) = head.split_at(MAGIC.len());
    let (own_key, sum) = rest.split_at(HASH);
    if magic != MAGIC || own_key != key.0 || sum != checksum(key, value) {
        return None;
    }
    bytes.drain(..HEAD);
    Some(bytes)
}

fn checksum(key: &Key, value: &[u8]) -> [u8; HASH] {
    let mut state = Sha256::new();
    state.update(key.0);
    state.update(value);
    state.finalize().into()
}

/// An entry written beside its name. Dropped, it is deleted.
pub(crate) struct PendingEntry {
    file: NamedTempFile,
    folder: PathBuf,
    key: Key,
}

impl PendingEntry {
    /// Gives the entry its name: who reads it meanwhile finds the one before or this one.
    /// Older entries make room for it.
    pub(crate) fn keep(self) {
        let _ = self.try_keep();
    }

    fn try_keep(self) -> io::Result<()> {
        let path = self.key.path(&self.folder);
        self.file.persist(path).map_err(|e| e.error)?;
        drop_oldest(&self.folder, MOST_BYTES)
    }
}

/// Writes what `fill` gives as the value of a key. It is not held in memory.
pub(super) fn write(
    folder: &Path,
    key: Key,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> io::Result<PendingEntry> {
    let mut part = tempfile::Builder::new().prefix(PART).tempfile_in(folder)?;
    let file = part.as_file_mut();
    // Its place, until it is known.
    file.write_all(&[0; HEAD])?;
    let hashed = HashedWriter {
        state: Sha256::new_with_prefix(key.0),
        out: &mut *file,
    };
    let mut out = BufWriter::with_capacity(1 << 16, hashed);
    fill(&mut out)?;
    let hashed = out.into_inner().map_err(io::IntoInnerError::into_error)?;
    let sum: [u8; HASH] = hashed.state.finalize().into();
    file.seek(SeekFrom::Start(0))?;
    file.write_all(&[&MAGIC[..], &key.0, &sum].concat())?;
    Ok(PendingEntry {
        file: part,
        folder: folder.to_path_buf(),
        key,
    })
}

/// Takes the hash of what passes.
struct HashedWriter<W> {
    out: W,
    state: Sha256,
}

impl<W: Write> Write for HashedWriter<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n = self.out.write(bytes)?;
        self.state.update(&bytes[..n]);
        Ok(n)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// Deletes the oldest entries until the others fit, and what a program that was killed left
/// half written. Files of other names are left alone.
fn drop_oldest(folder: &Path, most_bytes: u64) -> io::Result<()> {
    let mut entries: Vec<(SystemTime, u64, PathBuf)> = Vec::new();
    for found in std::fs::read_dir(folder)?.flatten() {
        let Ok(metadata) = found.metadata() else {
            continue;
        };
        let (Ok(modified), path) = (metadata.modified(), found.path()) else {
            continue;
        };
        let name = found.file_name();
        let name = name.to_string_lossy();
        let age = modified.elapsed().unwrap_or_default();
        if metadata.is_file() && name.starts_with(PART) && age > PART_IS_LEFT {
            let _ = std::fs::remove_file(&path);
        } else if metadata.is_file() && is_entry(&name) {
            entries.push((modified, metadata.len(), path));
        }
    }
    entries.sort();
    let mut bytes: u64 = entries.iter().map(|e| e.1).sum();
    for (_, size, path) in entries {
        if bytes <= most_bytes {
            break;
        }
        std::fs::remove_file(path)?;
        bytes -= size;
    }
    Ok(())
}

fn is_entry(name: &str) -> bool {
    let stem = name.strip_suffix(ENDING).and_then(|s| s.strip_suffix('.'));
    stem.is_some_and(|s| s.len() == 2 * HASH && s.bytes().all(|b| b.is_ascii_hexdigit()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(part: &str) -> Key {
        Key::new("test", b"build", &[part.as_bytes()])
    }

    fn write(folder: &Path, key: Key, value: &[u8]) -> io::Result<()> {
        super::write(folder, key, |out| out.write_all(value))?.try_keep()
    }

    #[test]
    fn an_entry_altered_or_cut_at_any_byte_is_none() {
        let folder = tempfile::tempdir().expect("scratch");
        let value: Vec<u8> = (0..100).collect();
        write(folder.path(), key("a"), &value).expect("written");
        assert_eq!(read(folder.path(), &key("a")), Some(value.clone()));
        let path = key("a").path(folder.path());
        let whole = std::fs::read(&path).expect("read");
        for at in 0..whole.len() {
            let mut altered = whole.clone();
            altered[at] ^= 0x10;
            std::fs::write(&path, &altered).expect("written");
            assert_eq!(read(folder.path(), &key("a")), None, "byte {at}");
            std::fs::write(&path, &whole[..at]).expect("written");
            assert_eq!(read(folder.path(), &key("a")), None, "cut at {at}");
        }
        std::fs::write(&path, [&whole[..], b"x"].concat()).expect("written");
        assert_eq!(read(folder.path(), &key("a")), None, "longer");
    }

    #[test]
    fn an_entry_under_another_name_a_link_and_a_folder_are_none() {
        let folder = tempfile::tempdir().expect("scratch");
        let at = folder.path();
        write(at, key("a"), b"value").expect("written");
        std::fs::copy(key("a").path(at), key("b").path(at)).expect("copied");
        assert_eq!(read(at, &key("b")), None, "of another key");
        let elsewhere = at.join("elsewhere");
        std::fs::rename(key("a").path(at), &elsewhere).expect("moved");
        std::os::unix::fs::symlink(&elsewhere, key("a").path(at)).expect("linked");
        assert_eq!(read(at, &key("a")), None, "a link");
        write(at, key("a"), b"new").expect("written");
        assert_eq!(read(at, &key("a")), Some(b"new".to_vec()));
        assert_ne!(std::fs::read(&elsewhere).expect("kept"), b"new", "followed");
        std::fs::create_dir(key("c").path(at)).expect("made");
        assert_eq!(read(at, &key("c")), None, "a folder");
        assert!(write(at, key("c"), b"value").is_err());
    }

    #[test]
    fn parts_are_told_apart_where_they_meet() {
        let of = |parts: &[&[u8]]| Key::new("test", b"build", parts).0;
        assert_ne!(of(&[b"ab", b"c"]), of(&[b"a", b"bc"]));
        assert_ne!(of(&[b"ab"]), of(&[b"ab", b""]));
        assert_ne!(of(&[b"a"]), Key::new("test", b"other", &[b"a"]).0);
    }

    #[test]
    fn the_oldest_entries_go_and_nothing_else_does() {
        let folder = tempfile::tempdir().expect("scratch");
        let at = folder.path();
        let hours_ago = |path: &Path, hours: u64| {
            let time = SystemTime::now() - Duration::from_secs(3600 * hours);
            let file = OpenOptions::new().write(true).open(path).expect("opens");
            file.set_modified(time).expect("set");
        };
        for (name, hours) in [("old", 3), ("older", 5), ("new", 1)] {
            write(at, key(name), &[0; 1000]).expect("written");
            hours_ago(&key(name).path(at), hours);
        }
        for foreign in ["notes.txt", ".part-fresh", ".part-left"] {
            std::fs::write(at.join(foreign), [0; 9000]).expect("written");
        }
        hours_ago(&at.join("notes.txt"), 99);
        hours_ago(&at.join(".part-left"), 2);
        drop_oldest(at, 2 * 1200).expect("listed");
        let there = |name: &str| key(name).path(at).exists();
        assert_eq!(
            (there("older"), there("old"), there("new")),
            (false, true, true)
        );
        let left = |name: &str| at.join(name).exists();
        assert!(left("notes.txt") && left(".part-fresh") && !left(".part-left"));
    }
}
