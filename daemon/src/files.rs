//! Files opened by a name that somebody else may have made: regular files only,
//! no links where one of ours is made, and never a wait.

use rustix::fs::{OFlags, PROC_SUPER_MAGIC};
use std::fs::File;
use std::io::{self, Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

/// Reads a regular file whole.
///
/// A FIFO or a device is refused instead of waited for. So is a file of `/proc` or
/// `/sys`, which calls itself regular and may have no end.
///
/// # Errors
/// The system's; `InvalidInput` with a remedy for what is no regular file on a disk,
/// or is larger than `most_bytes`.
pub(crate) fn read_regular(path: &Path, most_bytes: u64) -> io::Result<Vec<u8>> {
    let file = File::options()
        .read(true)
        .custom_flags((OFlags::NONBLOCK | OFlags::NOCTTY).bits() as i32)
        .open(path)?;
    let facts = file.metadata()?;
    let refused = |what: String| Err(io::Error::new(io::ErrorKind::InvalidInput, what));
    if !facts.is_file() {
        return refused("is not a regular file; give the file itself".into());
    }
    if made_by_the_kernel(&file)? {
        return refused("is made by the kernel as it is read; give a file of your own".into());
    }
    if facts.len() > most_bytes {
        return refused(format!("is larger than {most_bytes} bytes, which none is"));
    }
    let mut bytes = Vec::new();
    file.take(most_bytes + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most_bytes {
        return refused(format!("is larger than {most_bytes} bytes, which none is"));
    }
    Ok(bytes)
}

/// True for files of `/proc` and `/sys`.
///
/// **Source**: `linux/magic.h`, SYSFS_MAGIC; the other is in rustix.
fn made_by_the_kernel(file: &File) -> io::Result<bool> {
    const SYSFS_MAGIC: u64 = 0x6265_6572;
    let kind = rustix::fs::fstatfs(file)?.f_type as u64;
    Ok(kind == PROC_SUPER_MAGIC as u64 || kind == SYSFS_MAGIC)
}

/// Puts a file in place of the one before, never half written. A link of that
/// name, planted by whoever may write to the folder, is replaced, not followed.
///
/// # Errors
/// The system's.
pub(crate) fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut fresh = path.as_os_str().to_owned();
    fresh.push(".new");
    let fresh = PathBuf::from(fresh);
    match std::fs::remove_file(&fresh) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
        _ => {}
    }
    // `create_new` follows no link and opens nothing that is there.
    let mut file = File::options().write(true).create_new(true).open(&fresh)?;
    file.write_all(bytes)?;
    std::fs::rename(&fresh, path)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rustix::fs::{CWD, FileType, Mode, mknodat};

    fn fifo(path: &Path) {
        let mode = Mode::from_raw_mode(0o600);
        mknodat(CWD, path, FileType::Fifo, mode, 0).expect("a FIFO");
    }

    #[test]
    fn only_regular_files_of_a_sane_size_are_read() {
        let folder = tempfile::tempdir().expect("scratch");
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("good"), b"text").expect("written");
        assert_eq!(read_regular(&at("good"), 4).expect("read"), b"text");
        std::fs::write(at("empty"), b"").expect("written");
        assert_eq!(read_regular(&at("empty"), 4).expect("read"), b"");
        std::os::unix::fs::symlink(at("good"), at("link")).expect("linked");
        assert_eq!(read_regular(&at("link"), 4).expect("read"), b"text");
        let said = |path: &Path, most| read_regular(path, most).expect_err("refused").to_string();
        assert!(said(&at("good"), 3).contains("larger than 3 bytes"));
        fifo(&at("fifo"));
        for other in [at("fifo"), "/dev/zero".into(), folder.path().into()] {
            assert!(said(&other, 9).contains("not a regular file"), "{other:?}");
        }
        for endless in [
            "/proc/self/mem",
            "/proc/kmsg",
            "/proc/self/environ",
            "/sys/kernel/notes",
        ] {
            let refused = read_regular(Path::new(endless), 1 << 20);
            assert!(refused.is_err(), "{endless}");
        }
    }

    #[test]
    fn a_planted_link_is_replaced_and_a_planted_fifo_not_waited_for() {
        let folder = tempfile::tempdir().expect("scratch");
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("other"), b"keep").expect("written");
        std::os::unix::fs::symlink(at("other"), at("out.new")).expect("linked");
        std::os::unix::fs::symlink(at("other"), at("out")).expect("linked");
        replace(&at("out"), b"first").expect("written");
        fifo(&at("out.new"));
        replace(&at("out"), b"second").expect("written");
        assert_eq!(std::fs::read(at("out")).expect("read"), b"second");
        assert_eq!(std::fs::read(at("other")).expect("read"), b"keep");
        assert!(!at("out.new").exists());
    }
}
