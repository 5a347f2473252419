//! What gets in and what gets out: no door to the network, nothing written
//! beside a log on read-only media, no text of a log that becomes markup or a
//! formula.

use super::live::line::Socket;
use super::live::process::Bench;
use super::{SEEP, replayed};
use seep_tests::scratch::{listing, scratch};
use seep_tests::{code, run, run_as_typed};
use std::collections::HashSet;
use std::path::Path;
use std::process::{Command, Output};

/// Families of sockets that another machine can reach, as the kernel lists them.
const REACHABLE: [&str; 10] = [
    "tcp", "tcp6", "udp", "udp6", "udplite", "udplite6", "raw", "raw6", "icmp", "packet",
];

/// The sockets of a process that somebody else could open or send to.
fn doors(pid: u32) -> Vec<String> {
    let folder = format!("/proc/{pid}/fd");
    let own: HashSet<String> = std::fs::read_dir(folder)
        .expect("a process of ours")
        .filter_map(|entry| std::fs::read_link(entry.ok()?.path()).ok())
        .filter_map(|to| {
            let to = to.to_string_lossy().into_owned();
            Some(to.strip_prefix("socket:[")?.strip_suffix(']')?.to_string())
        })
        .collect();
    let mut found = Vec::new();
    let table = |name: &str| std::fs::read_to_string(format!("/proc/{pid}/net/{name}"));
    for name in REACHABLE {
        let text = table(name).unwrap_or_default();
        for line in text.lines().skip(1) {
            if line.split_whitespace().any(|word| own.contains(word)) {
                found.push(format!("{name}: {line}"));
            }
        }
    }
    // Local ones: the kernel's flag of a listener is 00010000.
    for line in table("unix").expect("listed").lines().skip(1) {
        let words: Vec<&str> = line.split_whitespace().collect();
        if words[3] == "00010000" && own.contains(words[6]) {
            found.push(format!("unix: {line}"));
        }
    }
    found
}

#[test]
fn the_recorder_opens_no_door() {
    let folder = scratch();
    let socket = Socket::new(folder.path());
    let bench = Bench::new(socket.name(), folder);
    let mut device = socket.plug();
    let recorder = bench.start_with(|_| {});
    device.wait_for_reader();
    for i in 0..40 {
        device.say_tank(300.0 + f64::from(i));
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    assert_eq!(doors(recorder.id()), Vec::<String>::new());
    assert_eq!(recorder.stop().0, 0);
}

/// Would they be seen?
#[test]
fn doors_are_seen() {
    let own = std::process::id();
    let tcp = std::net::TcpListener::bind("127.0.0.1:0").expect("bound");
    let udp =
        std::net::UdpSocket::bind("[::1]:0").or_else(|_| std::net::UdpSocket::bind("127.0.0.1:0"));
    let folder = scratch();
    let unix = std::os::unix::net::UnixListener::bind(folder.path().join("door")).expect("bound");
    let found = doors(own).join("\n");
    drop((tcp, udp, unix));
    for kind in ["tcp: ", "udp", "unix: "] {
        assert!(found.contains(kind), "{kind} is not seen in: {found}");
    }
}

/// `seep` on a folder mounted read-only, in a name space of its own; `None` where
/// the system allows none.
fn on_read_only_medium(folder: &Path, args: &[&str]) -> Option<Output> {
    let script = "mount --bind \"$0\" \"$0\" && mount -o remount,bind,ro \"$0\" \
         && ! touch \"$0/probe\" 2>/dev/null && shift 0 && echo MOUNTED >&2 && exec \"$@\"";
    let done = Command::new("unshare")
        .args(["--map-root-user", "--mount", "sh", "-c", script])
        .arg(folder)
        .arg(SEEP)
        .args(args)
        .env("TZ", "UTC")
        .output()
        .ok()?;
    let said = String::from_utf8_lossy(&done.stderr);
    said.contains("MOUNTED").then_some(done)
}

/// Closed in order, and with the write-ahead log that a power cut leaves.
#[test]
fn a_log_on_read_only_media_is_read_and_left_as_it_is() {
    for cut in [false, true] {
        let folder = scratch();
        let log = replayed("slow-leak-overnight", folder.path());
        if cut {
            leave_a_write_ahead_log(Path::new(&log));
        }
        let before = listing(folder.path());
        assert_eq!(before.len(), if cut { 2 } else { 1 }, "{:?}", before.keys());
        for command in ["trip", "leaks", "diagnose", "sessions", "verify", "export"] {
            let args = [command, "--log", &log, "--zone", "UTC"];
            let Some(done) = on_read_only_medium(folder.path(), &args) else {
                eprintln!(
                    "SKIPPED LOUDLY: a_log_on_read_only_media_is_read_and_left_as_it_is: \
                     no mount name space can be made here"
                );
                return;
            };
            let said = String::from_utf8_lossy(&done.stderr).into_owned();
            assert_eq!(code(&done), 0, "{command}, cut {cut}: {said}");
            assert!(listing(folder.path()) == before, "{command} left a trace");
            // A copy of it on a disk that can be written says the same.
            let other = scratch();
            for (name, bytes) in &before {
                std::fs::write(other.path().join(name), bytes).expect("copied");
            }
            let there = other.path().join("trip.db").display().to_string();
            let same = run_as_typed(SEEP, &[command, "--log", &there, "--zone", "UTC"]);
            assert_eq!(code(&same), 0);
            let plain =
                |o: &Output, path: &str| String::from_utf8_lossy(&o.stdout).replace(path, "LOG");
            assert_eq!(plain(&done, &log), plain(&same, &there), "{command}");
        }
    }
}

/// A change that never reached the database file, as after a power cut.
fn leave_a_write_ahead_log(log: &Path) {
    let live = rusqlite::Connection::open(log).expect("opens");
    live.execute_batch(
        "PRAGMA journal_mode = WAL; PRAGMA wal_autocheckpoint = 0;
         UPDATE session SET program = program || ' x';",
    )
    .expect("written");
    let bytes = ["", "-wal"].map(|ending| {
        let path = format!("{}{ending}", log.display());
        (std::fs::read(&path).expect("there"), path)
    });
    live.close().expect("closed");
    for (bytes, path) in bytes {
        std::fs::write(path, bytes).expect("written");
    }
    let _ = std::fs::remove_file(format!("{}-shm", log.display()));
}

/// Text that a page would run and a spreadsheet would calculate.
const EVIL: [&str; 2] = ["<script>alert(1)</script>", "=HYPERLINK(\"x\",1+1)"];

/// Every text of the log says this.
fn poisoned(folder: &Path, text: &str) -> String {
    let log = replayed("slow-leak-overnight", folder);
    let quoted = format!("'{}'", text.replace('\'', "''"));
    let toml = std::fs::read_to_string(seep_tests::sample("slow-leak-overnight").join("rig.toml"))
        .expect("a rig");
    let name = "name = \"Blue coupe (invented)\"";
    assert!(toml.contains(name));
    let named = toml.replacen(name, &format!("name = '''{text}'''"), 1);
    let sql = rusqlite::Connection::open(&log).expect("opens");
    sql.execute("UPDATE rig SET toml = ?1", [named])
        .expect("set");
    sql.execute_batch(&format!(
        "UPDATE channel SET name = {quoted} WHERE id = 3;
         UPDATE channel SET unit = {quoted} WHERE id = 4;
         UPDATE session SET program = {quoted}, origin = {quoted}, boot_id = {quoted};
         UPDATE gap SET cause = {quoted}, what = {quoted};
         UPDATE counter SET name = {quoted} WHERE id % 2 = 0;
         UPDATE counter SET source = {quoted} WHERE id % 2 = 1;
         UPDATE event SET place = {quoted} WHERE id % 2 = 0;
         INSERT INTO notice(t_ms, source, text)
           SELECT start_t_ms, {quoted}, {quoted} FROM session;"
    ))
    .expect("poisoned");
    sql.close().expect("closed");
    log
}

#[test]
fn no_text_of_a_log_becomes_markup() {
    let folder = scratch();
    let log = poisoned(folder.path(), EVIL[0]);
    let mut shown = 0;
    for command in [
        "trip", "leaks", "duty", "moves", "diagnose", "sessions", "verify",
    ] {
        let done = run(
            SEEP,
            &[command, "--log", &log, "--zone", "UTC", "--format", "html"],
        );
        let page = String::from_utf8_lossy(&done.stdout).into_owned();
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(page.contains("<html"), "{command}: {said}");
        assert!(!page.contains("<script>alert"), "{command}");
        shown += page.matches("&lt;script&gt;alert(1)").count();
    }
    assert!(shown > 10, "the text is hardly shown at all: {shown}");
}

#[test]
fn no_text_of_a_log_becomes_a_formula() {
    let folder = scratch();
    let log = poisoned(folder.path(), EVIL[1]);
    let mut shown = 0;
    let mut look = |what: &str, done: &Output| {
        let text = String::from_utf8_lossy(&done.stdout).into_owned();
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(text.lines().count() > 1, "{what}: {said}");
        // A cell begins a line, or follows a comma, with or without a quote.
        for start in ["=HYPERLINK", "\"=HYPERLINK"] {
            let bare = text
                .lines()
                .any(|l| l.starts_with(start) || l.contains(&format!(",{start}")));
            assert!(!bare, "{what}: {text}");
        }
        shown += text.matches("'=HYPERLINK").count();
    };
    for table in ["readings", "events", "gaps", "sessions", "counters"] {
        let args = ["export", "--log", &log, "--zone", "UTC", "--table", table];
        look(table, &run(SEEP, &args));
    }
    for command in ["trip", "sessions", "verify", "diagnose"] {
        let args = [command, "--log", &log, "--zone", "UTC", "--format", "csv"];
        look(command, &run(SEEP, &args));
    }
    assert!(shown > 10, "the text is hardly shown at all: {shown}");
}
