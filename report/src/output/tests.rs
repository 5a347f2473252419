//! What the output edge must never do, tried on real files.

use std::os::unix::fs::{PermissionsExt, symlink};

use super::*;

struct Folder {
    dir: tempfile::TempDir,
    log: PathBuf,
}

impl Folder {
    fn new() -> Folder {
        let dir = tempfile::tempdir().expect("a folder");
        let log = dir.path().join("trip.db");
        fs::write(&log, b"SQLite format 3\0 and the rest").expect("a log");
        Folder { dir, log }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    fn write(&self, name: &str, text: &str) -> Result<(), OutputError> {
        write(text, &Destination::File(self.path(name)), &self.log)
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.dir.path()).expect("a folder");
        let names = entries.map(|e| e.expect("an entry").file_name());
        let mut names: Vec<String> = names.map(|n| n.to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

#[test]
fn the_log_is_never_overwritten_under_any_name() {
    let folder = Folder::new();
    symlink(&folder.log, folder.path("link.html")).expect("a link");
    fs::hard_link(&folder.log, folder.path("second-name.html")).expect("a hard link");
    fs::write(folder.path("other.db"), b"SQLite format 3\0").expect("a database");
    for name in [
        "trip.db",
        "link.html",
        "second-name.html",
        "trip.db-wal",
        "trip.db-shm",
    ] {
        let refused = folder.write(name, "report");
        assert!(
            matches!(refused, Err(OutputError::WouldOverwriteLog(_))),
            "{name}"
        );
    }
    let refused = folder.write("other.db", "report");
    assert!(matches!(
        refused,
        Err(OutputError::WouldOverwriteDatabase(_))
    ));
    let kept = fs::read(&folder.log).expect("the log");
    assert_eq!(kept, b"SQLite format 3\0 and the rest");
    assert!(!folder.names().iter().any(|n| n.ends_with("-wal")));
}

#[test]
fn a_file_is_replaced_whole_and_keeps_its_permissions() {
    let folder = Folder::new();
    fs::write(folder.path("r.html"), "an older and longer report").expect("a file");
    let mode = Permissions::from_mode(0o640);
    fs::set_permissions(folder.path("r.html"), mode).expect("permissions");
    folder.write("r.html", "new").expect("written");
    assert_eq!(
        fs::read_to_string(folder.path("r.html")).expect("read"),
        "new"
    );
    let mode = fs::metadata(folder.path("r.html"))
        .expect("there")
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o640);
    assert_eq!(
        folder.names(),
        ["r.html", "trip.db"],
        "no part file stays behind"
    );
}

#[test]
fn a_link_is_replaced_not_followed_and_colours_are_taken_out() {
    let folder = Folder::new();
    fs::write(folder.path("real.txt"), "old").expect("a file");
    symlink(folder.path("real.txt"), folder.path("latest.txt")).expect("a link");
    folder
        .write("latest.txt", "\u{1b}[1mnew\u{1b}[0m")
        .expect("written");
    let read = |name| fs::read_to_string(folder.path(name)).expect("read");
    assert_eq!(
        (read("real.txt"), read("latest.txt")),
        ("old".into(), "new".into())
    );
    let kind = fs::symlink_metadata(folder.path("latest.txt")).expect("there");
    assert!(kind.is_file());
}

/// What a stranger can plant in a folder he may write to: links to files, to
/// folders, to devices, to nothing, and a FIFO that nobody reads.
#[test]
fn nothing_planted_in_a_shared_folder_is_followed_or_waited_for() {
    let folder = Folder::new();
    fs::set_permissions(folder.dir.path(), Permissions::from_mode(0o1777)).expect("shared");
    fs::write(folder.path("victim.txt"), "keep").expect("a file");
    fs::create_dir(folder.path("folder")).expect("a folder");
    symlink(folder.path("victim.txt"), folder.path("a.html")).expect("a link");
    symlink(folder.path("folder"), folder.path("b.html")).expect("a link");
    symlink("/dev/null", folder.path("c.html")).expect("a link");
    symlink(folder.path("nowhere"), folder.path("d.html")).expect("a link");
    let made = std::process::Command::new("mkfifo")
        .arg(folder.path("e.html"))
        .status();
    assert!(made.expect("coreutils").success());
    for name in ["a.html", "b.html", "c.html", "d.html", "e.html"] {
        folder.write(name, "report").expect(name);
        let kind = fs::symlink_metadata(folder.path(name)).expect("there");
        assert!(kind.is_file(), "{name}");
        let text = fs::read_to_string(folder.path(name)).expect("read");
        assert_eq!(text, "report", "{name}");
    }
    let kept = fs::read_to_string(folder.path("victim.txt")).expect("read");
    assert_eq!(kept, "keep");
    assert!(!folder.path("nowhere").exists());
}

#[test]
fn a_folder_or_a_missing_folder_is_named() {
    let folder = Folder::new();
    let missing = folder.write("nowhere/r.html", "x");
    assert!(matches!(missing, Err(OutputError::NoSuchFolder(_))));
    fs::create_dir(folder.path("here")).expect("a folder");
    assert!(matches!(
        folder.write("here", "x"),
        Err(OutputError::IsFolder(_))
    ));
}

#[test]
fn a_device_is_written_to_and_stays_a_device() {
    let folder = Folder::new();
    let device = Destination::File("/dev/null".into());
    write("x", &device, &folder.log).expect("written");
    assert!(!fs::metadata("/dev/null").expect("there").is_file());
}

#[test]
fn a_closed_pipe_is_success_and_other_faults_are_not() {
    assert!(closed_pipe_is_fine(Err(io::ErrorKind::BrokenPipe.into())).is_ok());
    assert!(closed_pipe_is_fine(Err(io::ErrorKind::StorageFull.into())).is_err());
}

#[test]
fn a_dash_is_standard_output() {
    assert_eq!(
        Destination::from_option(Some(Path::new("-"))),
        Destination::Stdout
    );
    assert_eq!(Destination::from_option(None), Destination::Stdout);
}

#[test]
fn what_counts_as_plain_is_not_changed_by_taking_colours_out() {
    for code in 0..0x7f_u8 {
        let text = format!("a{}b", char::from(code));
        let stripped = anstream::adapter::strip_str(&text).to_string();
        assert!(!is_plain(&text) || stripped == text, "{code:x}");
    }
    assert!(is_plain("12 °C\n") && !is_plain("\u{1b}[31mred"));
}
