//! Who reads a log while it is recorded: members of the reader group may, others
//! are told whom to ask. The rights are those of the shipped unit and folders;
//! users and groups are numbers without names, so that nothing is made for them.

use super::line::{Device, Socket};
use super::process::{Bench, Recorder};
use crate::{SEEP, SEEPD};
use seep_tests::code;
use std::os::unix::fs::{PermissionsExt, chown};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const UNIT: &str = include_str!("../../../systemd/seepd.service");
const NIGHT: &str = include_str!("../../../systemd/seep-night.service");
const FOLDERS: &str = include_str!("../../../systemd/seepd.tmpfiles");

/// Numbers that no system gives to people or services by itself.
const RECORDER: u32 = 61_801;
const READER: u32 = 61_802;
const OUTSIDER: u32 = 61_803;
const GROUP: u32 = 61_804;

/// What plain SQLite says of a live log, with nothing of ours in between.
const PLAIN: &str = "import sqlite3, sys
log = sqlite3.connect('file:' + sys.argv[1] + '?mode=ro', uri=True)
print(log.execute('select count(*), max(tank_kpa_gauge) from reading').fetchone())";

/// A setting of a unit, its last word.
fn setting<'a>(unit: &'a str, key: &str) -> &'a str {
    let of = |line: &'a str| line.strip_prefix(key)?.strip_prefix('=');
    unit.lines().rev().find_map(of).expect("the unit sets it")
}

/// Mode of the log's folder, as the shipped file makes it.
fn folder_mode() -> u32 {
    let line = FOLDERS
        .lines()
        .find(|l| l.starts_with("d /var/lib/seep "))
        .expect("the folder is made");
    let mode = line.split_whitespace().nth(2).expect("a mode");
    u32::from_str_radix(mode, 8).expect("octal")
}

/// A command as a user, with the unit's mask.
fn as_user(user: u32, groups: &str, program: &Path) -> Command {
    let mut command = Command::new("setpriv");
    command.arg(format!("--reuid={user}"));
    if user == RECORDER {
        command.args([&format!("--regid={GROUP}"), "--clear-groups"]);
    } else {
        command.args([format!("--regid={user}"), format!("--groups={groups}")]);
    }
    let mask = setting(UNIT, "UMask");
    let line = format!("umask {mask}; exec \"$0\" \"$@\"");
    command.args(["sh", "-c", &line]).arg(program);
    command
}

/// A recorder's folder with the shipped rights, and copies of the programs that
/// everybody may start.
struct Shared {
    bench: Bench,
    socket: Socket,
    programs: tempfile::TempDir,
}

impl Shared {
    fn program(&self, path: &str) -> PathBuf {
        let name = Path::new(path).file_name().expect("a name");
        self.programs.path().join(name)
    }

    /// Plug a device in that the recorder may open, as udev does.
    fn plug(&self) -> Device {
        let device = self.socket.plug();
        let line = self.socket.name().canonicalize().expect("plugged");
        chown(&line, Some(RECORDER), None).expect("root may");
        device
    }

    fn start(&self) -> Recorder {
        let seepd = self.program(SEEPD);
        self.bench.start_as(as_user(RECORDER, "", &seepd))
    }

    fn ask(&self, user: u32, groups: &str, program: &str, words: &[&str]) -> Output {
        as_user(user, groups, &self.program(program))
            .args(words)
            .env("NO_COLOR", "1")
            .output()
            .expect("starts")
    }

    fn report_to(&self, user: u32, groups: &str) -> Output {
        let log = self.bench.log().display().to_string();
        self.ask(user, groups, SEEP, &["sessions", "--full", "--log", &log])
    }
}

/// The bench, unless this machine cannot show it.
fn shared(test: &str) -> Option<(Shared, Device)> {
    let skip = |why: &str| {
        eprintln!("SKIPPED LOUDLY: {test}: {why}");
        None
    };
    if !rustix::process::geteuid().is_root() {
        return skip("only root can be other users; run the tests as root to see it");
    }
    if Command::new("setpriv").arg("--version").output().is_err() {
        return skip("setpriv (util-linux) is missing");
    }
    let (bench, socket) = Bench::on_a_line();
    let folder = bench.folder.path();
    let mode = |mode| std::fs::Permissions::from_mode(mode);
    chown(folder, Some(RECORDER), Some(GROUP)).expect("root may");
    std::fs::set_permissions(folder, mode(folder_mode())).expect("root may");
    let programs = tempfile::tempdir().expect("scratch");
    std::fs::set_permissions(programs.path(), mode(0o755)).expect("set");
    let shared = Shared {
        bench,
        socket,
        programs,
    };
    for program in [SEEPD, SEEP] {
        let copy = shared.program(program);
        std::fs::copy(program, &copy).expect("copied");
        std::fs::set_permissions(&copy, mode(0o755)).expect("set");
    }
    let device = shared.plug();
    Some((shared, device))
}

/// Have so many rows stored.
fn record(shared: &Shared, device: &mut Device, recorder: &Recorder, rows: u64) {
    device.wait_for_reader();
    let status = || {
        let status = shared.bench.status()?;
        (status["pid"] == recorder.id()).then(|| status["stored_rows"].as_u64())?
    };
    while status() < Some(rows) {
        device.say_tank(850.0);
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn the_units_and_the_folder_agree_on_who_may_read() {
    for unit in [UNIT, NIGHT] {
        let state = u32::from_str_radix(setting(unit, "StateDirectoryMode"), 8).expect("octal");
        assert_eq!(
            state,
            folder_mode(),
            "systemd would undo what tmpfiles made"
        );
        assert_eq!(setting(unit, "UMask"), "0027");
    }
    assert_eq!(folder_mode(), 0o2750, "the group reads and nothing more");
}

#[test]
fn a_member_of_the_reader_group_reads_a_live_log_and_an_outsider_is_told_what_to_do() {
    let Some((shared, mut device)) = shared("a_member_of_the_reader_group_reads_a_live_log") else {
        return;
    };
    let recorder = shared.start();
    record(&shared, &mut device, &recorder, 2);
    let wal = shared.bench.log().with_extension("db-wal");
    assert!(wal.metadata().expect("live").len() > 0);
    let group = GROUP.to_string();

    let read = shared.report_to(READER, &group);
    assert_eq!(code(&read), 0, "{}", text(&read.stderr));
    assert!(
        text(&read.stdout).contains("live"),
        "{}",
        text(&read.stdout)
    );
    if let Some((read, said)) = plain(&shared, READER, &group) {
        assert!(read && said.contains("850"), "{said}");
    }
    let status = shared.bench.status_file().display().to_string();
    let told = shared.ask(READER, &group, SEEPD, &["status", "--status-file", &status]);
    assert_eq!(code(&told), 0, "{}", text(&told.stderr));

    for refused in [
        shared.report_to(OUTSIDER, &OUTSIDER.to_string()),
        shared.ask(
            OUTSIDER,
            "61803",
            SEEPD,
            &["status", "--status-file", &status],
        ),
    ] {
        let said = text(&refused.stderr);
        assert_eq!(code(&refused), 66, "{said}");
        assert!(said.contains("this user may not read it"), "{said}");
        assert!(
            said.contains(&format!("usermod -aG {GROUP} NAME")),
            "{said}"
        );
    }
    let refused = plain(&shared, OUTSIDER, "61803").is_none_or(|(read, _)| !read);
    assert!(refused, "the folder is closed to others");

    // A member can neither alter, nor delete, nor plant anything.
    let folder = shared.bench.folder.path().display();
    let listed = || {
        let of = |e: std::io::Result<std::fs::DirEntry>| e.expect("an entry").file_name();
        let mut names: Vec<_> = (std::fs::read_dir(shared.bench.folder.path()).expect("a folder"))
            .map(of)
            .collect();
        names.sort();
        names
    };
    let before = listed();
    for attack in [
        "rm -f {f}/trip.db",
        "rm -f {f}/trip.db-wal",
        "rm -f {f}/trip.db-shm",
        "mv {f}/trip.db {f}/gone.db",
        "echo x >> {f}/trip.db",
        "echo x >> {f}/trip.db-wal",
        "echo x >> {f}/trip.db-shm",
        "truncate -s 0 {f}/trip.db",
        "mkfifo {f}/other.db",
        "ln -s /etc/passwd {f}/latest.html",
        "chmod 0666 {f}/trip.db",
    ] {
        let line = attack.replace("{f}", &folder.to_string());
        let tried = as_user(READER, &group, Path::new("sh"))
            .args(["-c", &line])
            .output()
            .expect("starts");
        assert!(!tried.status.success(), "{attack}: {tried:?}");
        assert_eq!(listed(), before, "{attack}");
    }

    // Readers of a live log did not hold it up, and left nothing of their own.
    record(&shared, &mut device, &recorder, 4);
    assert_eq!(recorder.stop().0, 0);
    let closed = shared.report_to(READER, &group);
    assert_eq!(code(&closed), 0, "{}", text(&closed.stderr));
}

/// The recorder was killed: what it left is read by members and changed by none,
/// and the next recorder goes on with it.
#[test]
fn a_member_reads_what_a_killed_recorder_left_and_changes_nothing() {
    let test = "a_member_reads_what_a_killed_recorder_left_and_changes_nothing";
    let Some((shared, mut device)) = shared(test) else {
        return;
    };
    let recorder = shared.start();
    record(&shared, &mut device, &recorder, 2);
    recorder.kill();
    // A line that the test holds open stays with the recorder that is gone.
    shared.socket.unplug(device);
    let mut device = shared.plug();
    let group = GROUP.to_string();
    let wal = shared.bench.log().with_extension("db-wal");
    let memory = shared.bench.log().with_extension("db-shm");
    let left = std::fs::read(&wal).expect("left");
    assert!(!left.is_empty());
    // Then the memory beside the log is gone too, as after a power cut on some cards.
    for gone in [false, true] {
        if gone {
            std::fs::remove_file(&memory).expect("was there");
        }
        let read = shared.report_to(READER, &group);
        assert_eq!(code(&read), 0, "{}", text(&read.stderr));
        if let Some((read, said)) = plain(&shared, READER, &group) {
            println!(
                "plain SQLite after a kill, memory gone {gone}: {read} {}",
                said.trim()
            );
            assert!(gone || (read && said.contains("850")), "{said}");
        }
        assert_eq!(std::fs::read(&wal).expect("kept"), left);
        assert_eq!(memory.exists(), !gone, "a member made a file");
    }
    let recorder = shared.start();
    record(&shared, &mut device, &recorder, 2);
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    assert_eq!(shared.bench.reader().sessions().expect("read").len(), 2);
    let closed = shared.report_to(READER, &group);
    assert!(closed.status.success(), "{}", text(&closed.stderr));
    if let Some((read, said)) = plain(&shared, READER, &group) {
        assert!(read && said.contains("850"), "a closed log: {said}");
    }
}

/// Whether plain SQLite could read it, and what it said; none without Python.
fn plain(shared: &Shared, user: u32, groups: &str) -> Option<(bool, String)> {
    if !has_python() {
        return None;
    }
    let log = shared.bench.log();
    let done = as_user(user, groups, Path::new("python3"))
        .args(["-c", PLAIN])
        .arg(&log)
        .output()
        .expect("setpriv starts");
    let said = text(&done.stdout) + &text(&done.stderr);
    Some((done.status.success(), said))
}

fn has_python() -> bool {
    let probe = Command::new("python3")
        .args(["-c", "import sqlite3"])
        .output();
    let has = probe.is_ok_and(|done| done.status.success());
    if !has {
        eprintln!("SKIPPED LOUDLY: reading a live log by plain SQLite: python3 has no sqlite3");
    }
    has
}
