//! On a terminal: colour and a bar; neither with `NO_COLOR` and in a pipe.

use super::{SEEP, replayed};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::fs::File;
use std::io::Read;
use std::process::{Command, Stdio};

/// Run `seep` with its standard error, or its standard output too, on a pseudo
/// terminal; what the terminal got and what went to the pipe.
fn on_a_terminal(args: &[&str], no_color: bool, out_too: bool) -> (String, String) {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pseudo terminal");
    grantpt(&master).expect("granted");
    unlockpt(&master).expect("unlocked");
    let name = ptsname(&master, Vec::new()).expect("a name");
    let path = name.to_str().expect("text").to_string();
    let far_end = || {
        let file = File::options().read(true).write(true).open(&path);
        Stdio::from(file.expect("opens"))
    };
    let mut command = Command::new(SEEP);
    command
        .args(args)
        .env("TERM", "xterm-256color")
        .env("XDG_CACHE_HOME", "/dev/null")
        .env_remove("NO_COLOR")
        .env_remove("CI")
        .stderr(far_end())
        .stdout(if out_too { far_end() } else { Stdio::piped() });
    if no_color {
        command.env("NO_COLOR", "1");
    }
    let mut child = command.spawn().expect("starts");
    drop(command);
    let piped = child.stdout.take();
    let mut terminal = File::from(master);
    let reader = std::thread::spawn(move || {
        // When the last far end is closed, reading fails; all has been read then.
        let mut seen = Vec::new();
        let mut piece = [0; 4096];
        while let Ok(n @ 1..) = terminal.read(&mut piece) {
            seen.extend_from_slice(&piece[..n]);
        }
        String::from_utf8_lossy(&seen).into_owned()
    });
    let mut out = String::new();
    if let Some(mut piped) = piped {
        piped.read_to_string(&mut out).expect("text");
    }
    assert!(child.wait().expect("ends").success());
    (reader.join().expect("read"), out)
}

#[test]
fn colour_stands_on_a_terminal_unless_no_color_says_no() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let args = ["trip", "--log", &log, "--zone", "UTC"];
    let (coloured, _) = on_a_terminal(&args, false, true);
    assert!(coloured.contains("\u{1b}[1m\u{1b}[31mACT") || coloured.contains("[31m"));
    let (plain, _) = on_a_terminal(&args, true, true);
    let report = plain.split("ACT:").nth(1).expect("the report");
    assert!(!report.contains("\u{1b}[1m") && !report.contains("\u{1b}[31m"));
}

#[test]
fn the_bar_is_on_the_terminal_and_never_in_the_report() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let args = ["trip", "--log", &log, "--zone", "UTC"];
    let (terminal, report) = on_a_terminal(&args, false, false);
    assert!(terminal.contains("reading session"), "{terminal:?}");
    assert!(report.starts_with("ACT: The rear right corner"), "{report}");
    assert!(!report.contains('\u{1b}') && !report.contains("reading session"));
}
