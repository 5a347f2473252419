//! Files named by a person that are none: FIFOs, devices, files of the kernel,
//! files beyond any size. Each is refused at once, wherever a file is named.

use super::{SEEP, SEEPD, replayed};
use rustix::fs::{CWD, FileType, Mode, mknodat};
use seep_tests::scratch::scratch;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// A program that waits for a FIFO or reads a device to its end takes longer.
const LONGEST: Duration = Duration::from_secs(20);

/// Code and error text; a program that hangs is killed and fails the test.
fn ended(command: &mut Command) -> (Option<i32>, String) {
    let mut child = command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("starts");
    let until = Instant::now() + LONGEST;
    while child.try_wait().expect("a child").is_none() {
        if Instant::now() > until {
            child.kill().expect("killed");
            panic!("it hangs: {command:?}");
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    let done = child.wait_with_output().expect("ended");
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    (done.status.code(), said)
}

/// What a name may lead to, and whether a program may take it for an empty file.
fn odd(folder: &Path) -> Vec<(PathBuf, bool)> {
    let fifo = folder.join("fifo");
    mknodat(CWD, &fifo, FileType::Fifo, Mode::RUSR | Mode::WUSR, 0).expect("a FIFO");
    let large = folder.join("large");
    let file = std::fs::File::create(&large).expect("made");
    // Sparse: it takes no space.
    file.set_len(1 << 34).expect("long");
    vec![
        (fifo, false),
        (large, false),
        ("/dev/zero".into(), false),
        ("/proc/kmsg".into(), true),
        (folder.into(), false),
    ]
}

/// Runs a command with each odd file in place of `{}`.
fn refuses(what: &str, folder: &Path, command: impl Fn(&Path) -> Command) {
    for (file, may_be_empty) in odd(folder) {
        let (code, said) = ended(&mut command(&file));
        let code = code.expect("no signal ended it");
        println!("{what} {}: {code}", file.display());
        assert!(!said.contains("panicked"), "{what}: {said}");
        if !may_be_empty {
            assert!(
                [65, 66, 78].contains(&code),
                "{what} {file:?}: {code} {said}"
            );
            assert!(
                said.contains(&*file.to_string_lossy()),
                "{what}: the file is not named: {said}"
            );
        }
    }
    std::fs::remove_file(folder.join("fifo")).expect("there");
}

#[test]
fn a_rig_or_bus_database_that_is_no_file_is_refused_at_once() {
    let folder = scratch();
    let at = |name: &str| folder.path().join(name);
    refuses("rig", folder.path(), |file| {
        let mut command = Command::new(SEEPD);
        command.args(["run", "--rig"]).arg(file);
        command.arg("--log").arg(at("trip.db"));
        command
    });
    refuses("dbc of a rig", folder.path(), |file| {
        let text = format!(
            "[vehicle]\nname = \"invented\"\n[tank]\nvolume_l = 12.0\n[[source]]\nname = \"bus\"\n\
             kind = \"socketcan\"\ninterface = \"can0\"\ndbc = [\"{}\"]\n[[channel]]\n\
             name = \"tank_kpa_gauge\"\nsource = \"bus\"\nsignal = \"A.B\"\n",
            file.display()
        );
        std::fs::write(at("rig.toml"), text).expect("written");
        let mut command = Command::new(SEEPD);
        command.args(["run", "--rig"]).arg(at("rig.toml"));
        command.arg("--log").arg(at("trip.db"));
        command
    });
    std::fs::write(at("bus.log"), "(1754820000.0) can0 123#00\n").expect("written");
    refuses("dbc of listen", folder.path(), |file| {
        let mut command = Command::new(SEEPD);
        command
            .args(["listen", "--dbc"])
            .arg(file)
            .arg(at("bus.log"));
        command
    });
    refuses("heard", folder.path(), |file| {
        let mut command = Command::new(SEEPD);
        command.args(["draft", "--heard"]).arg(file);
        command.arg("--out").arg(at("drafted.toml"));
        command
    });
    assert!(!at("trip.db").exists() && !at("drafted.toml").exists());
}

#[test]
fn a_plan_or_a_file_of_defaults_that_is_no_file_is_refused_at_once() {
    let folder = scratch();
    let log = replayed("kinked-line", folder.path());
    refuses("plan", folder.path(), |file| {
        let mut command = Command::new(SEEP);
        command
            .args(["proof", "--no-cache", "--log", &log, "--plan"])
            .arg(file);
        command
    });
    let config = folder.path().join("config/seep");
    std::fs::create_dir_all(&config).expect("made");
    let defaults = config.join("seep.toml");
    for (program, first) in [(SEEP, "sessions"), (SEEPD, "status")] {
        for (file, may_be_empty) in odd(folder.path()) {
            let _ = std::fs::remove_file(&defaults);
            std::os::unix::fs::symlink(&file, &defaults).expect("linked");
            let mut command = Command::new(program);
            command
                .arg(first)
                .env("XDG_CONFIG_HOME", folder.path().join("config"))
                .env("XDG_CACHE_HOME", "/dev/null");
            let (code, said) = ended(&mut command);
            let refused = said.contains("seep.toml");
            assert!(may_be_empty || refused, "{file:?}: {code:?} {said}");
            let _ = std::fs::remove_file(folder.path().join("fifo"));
        }
    }
}
