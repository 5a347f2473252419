//! A person's defaults: `seep.toml`, read by both programs.

use super::live::process::Bench;
use super::{SEEP, SEEPD, replayed};
use rustix::process::{Pid, Signal, kill_process};
use seep_tests::code;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// A program in the surroundings of somebody with defaults in this folder.
fn with_defaults(program: &str, config: &Path) -> Command {
    let mut command = Command::new(program);
    command
        .env("XDG_CONFIG_HOME", config)
        .env("XDG_CACHE_HOME", "/dev/null")
        .env("NO_COLOR", "1")
        .env_remove("TZ")
        .env_remove("SEEP_LOG");
    command
}

fn write(config: &Path, text: &str) {
    std::fs::create_dir_all(config.join("seep")).expect("made");
    std::fs::write(config.join("seep/seep.toml"), text).expect("written");
}

fn asked(config: &Path, args: &[&str]) -> Output {
    with_defaults(SEEP, config)
        .args(args)
        .output()
        .expect("starts")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn the_report_takes_units_zone_and_log_from_the_file_unless_told_otherwise() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let config = folder.path().join("config");
    let zone = "Asia/Tokyo";
    write(
        &config,
        &format!("unit = \"psi\"\ntemperature = \"f\"\nzone = \"{zone}\"\nlog = \"{log}\"\n"),
    );
    let nobody = Path::new("/dev/null");
    let spelled = |zone| {
        let all = format!("leaks --log {log} --unit psi --temperature f --zone {zone}");
        asked(nobody, &all.split(' ').collect::<Vec<_>>())
    };
    let (short, long) = (asked(&config, &["leaks"]), spelled(zone));
    assert_eq!(code(&short), 0, "{}", text(&short.stderr));
    assert_eq!(text(&short.stdout), text(&long.stdout));
    let plain = asked(nobody, &["leaks", "--log", &log]);
    assert_ne!(
        text(&short.stdout),
        text(&plain.stdout),
        "the file did nothing"
    );
    // Options first, then the environment.
    let both = asked(&config, &["leaks", "--unit", "kpa", "--temperature", "c"]);
    let mut command = with_defaults(SEEP, &config);
    command.env("TZ", "UTC").env("SEEP_LOG", "/nowhere.db");
    let named = command.arg("leaks").output().expect("starts");
    assert_eq!(code(&named), 66, "{}", text(&named.stderr));
    assert!(text(&named.stderr).contains("/nowhere.db"));
    command.env("SEEP_LOG", &log);
    let zoned = command.output().expect("starts");
    let plain = asked(nobody, &["leaks", "--log", &log, "--zone", zone]);
    assert_eq!(text(&both.stdout), text(&plain.stdout));
    assert_eq!(text(&zoned.stdout), text(&spelled("UTC").stdout));
}

#[test]
fn mistakes_in_the_file_are_told_by_both_programs_with_line_and_key() {
    let folder = tempfile::tempdir().expect("scratch");
    let config = folder.path();
    write(config, "unit = \"psi\"\nzoen = \"UTC\"\nlenght = \"in\"\n");
    let status = folder.path().join("status.json");
    let told = with_defaults(SEEPD, config)
        .args(["status", "--status-file"])
        .arg(&status)
        .output()
        .expect("starts");
    for done in [asked(config, &["trip", "--log", "any.db"]), told] {
        let said = text(&done.stderr);
        assert_eq!(code(&done), 78, "{said}");
        assert!(said.contains("seep.toml: line 2: zoen"), "{said}");
        assert!(said.contains("did you mean `zone`?"), "{said}");
        assert!(said.contains("line 3: lenght"), "{said}");
    }
    // What needs no defaults does not stumble over them.
    assert_eq!(code(&asked(config, &["completions", "bash"])), 0);
    write(config, "zone = \"Mars/Base\"\n");
    let done = asked(config, &["trip", "--log", "any.db"]);
    assert_eq!(code(&done), 78);
    assert!(text(&done.stderr).contains("Mars/Base"));
    write(config, "unit = \"psi\"\n");
    let done = asked(config, &["trip"]);
    assert_eq!(code(&done), 2);
    assert!(text(&done.stderr).contains("--log FILE"));
}

#[test]
fn the_recorder_takes_its_log_from_the_file_and_says_in_one_line_what_it_records_where() {
    let (bench, socket) = Bench::on_a_line();
    let mut device = socket.plug();
    let config = bench.folder.path().join("config");
    let log = bench.log();
    write(
        &config,
        &format!("unit = \"psi\"\nlog = \"{}\"\n", log.display()),
    );
    let child = with_defaults(SEEPD, &config)
        .args(["run", "--rig"])
        .arg(bench.rig())
        .arg("--status-file")
        .arg(bench.status_file())
        .stderr(Stdio::piped())
        .spawn()
        .expect("starts");
    device.wait_for_reader();
    // 689.5 kPa are 100 psi (NIST SP 811: 6.894757 kPa).
    for _ in 0..5 {
        device.say_tank(689.4757);
    }
    bench.wait_for_readings(5);
    let state = with_defaults(SEEPD, &config)
        .args(["status", "--status-file"])
        .arg(bench.status_file())
        .output()
        .expect("starts");
    let shown = text(&state.stdout);
    assert!(shown.contains("100.0 psi"), "{shown}");
    kill_process(Pid::from_child(&child), Signal::TERM).expect("runs");
    let done = child.wait_with_output().expect("ends");
    let said = text(&done.stderr);
    assert_eq!(code(&done), 0, "{said}");
    let first = said.lines().next().unwrap_or_default();
    let told = format!(
        "recording 1 channels of invented from box ({}) to {}; status in {}",
        socket.name().display(),
        log.display(),
        bench.status_file().display()
    );
    assert_eq!(first, told);
    assert!(log.is_file());
}
