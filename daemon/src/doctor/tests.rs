//! What the doctor finds, on machines made of files.

use super::*;

const RIG: &str = r#"
[vehicle]
name = "invented"
[[source]]
name = "bus"
kind = "socketcan"
interface = "can0"
dbc = ["builtin:j1939-air"]
[[source]]
name = "box"
kind = "nmea"
device = "/dev/ttyUSB0"
[[channel]]
name = "tank_kpa_gauge"
source = "box"
transducer = "TANK"
"#;

fn machine(files: &[(&str, &str)]) -> tempfile::TempDir {
    let root = tempfile::tempdir().expect("scratch");
    for (path, text) in files {
        let path = root.path().join(path.trim_start_matches('/'));
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        std::fs::write(path, text).expect("written");
    }
    root
}

fn found(root: &tempfile::TempDir, log: Option<&Path>) -> Vec<Finding> {
    let rig = Rig::parse(RIG).expect("valid");
    examine(&Host {
        root: root.path(),
        rig: Some(&rig),
        log,
    })
}

fn grade(findings: &[Finding], word: &str) -> Option<Grade> {
    let of = |f: &&Finding| format!("{}: {} {}", f.what, f.seen, f.remedy).contains(word);
    findings.iter().filter(of).map(|f| f.grade).max()
}

fn mounts(root: &tempfile::TempDir, log: &Path, line: &str) -> Vec<Finding> {
    let path = root.path().join("proc/self");
    std::fs::create_dir_all(&path).expect("made");
    std::fs::write(path.join("mountinfo"), line).expect("written");
    found(root, Some(log))
}

#[test]
fn a_machine_without_clock_bus_and_line_is_told_so() {
    let root = machine(&[]);
    let findings = found(&root, None);
    assert_eq!(grade(&findings, "clock with battery"), Some(Grade::Weak));
    assert_eq!(grade(&findings, "clock synchronised"), Some(Grade::Bad));
    assert_eq!(grade(&findings, "no such interface"), Some(Grade::Bad));
    assert_eq!(
        grade(&findings, "/dev/ttyUSB0: not there"),
        Some(Grade::Bad)
    );
    assert_eq!(grade(&findings, "SQLite"), Some(Grade::Good));
}

#[test]
fn a_good_machine_has_nothing_bad() {
    let root = machine(&[
        ("/sys/class/rtc/rtc0", ""),
        ("/run/systemd/timesync/synchronized", ""),
        ("/sys/class/net/can0/type", "280\n"),
        ("/sys/class/net/can0/flags", "0x40081\n"),
        ("/sys/class/net/can0/statistics/rx_packets", "100000\n"),
        ("/sys/class/net/can0/statistics/rx_errors", "0\n"),
        ("/proc/sys/net/core/rmem_max", "8388608\n"),
        ("/dev/ttyUSB0", ""),
    ]);
    let findings = found(&root, None);
    assert!(
        findings.iter().all(|f| f.grade != Grade::Bad),
        "{findings:?}"
    );
    // The name of the line still changes with the order of plugging.
    assert_eq!(grade(&findings, "/dev/serial/by-id"), Some(Grade::Weak));
}

#[test]
fn a_bus_with_the_wrong_bit_rate_and_one_that_loses_frames_are_told() {
    let bus = |rx: &str, errors: &str, dropped: &str| {
        let root = machine(&[
            ("/sys/class/net/can0/type", "280\n"),
            ("/sys/class/net/can0/flags", "0x1\n"),
            ("/sys/class/net/can0/statistics/rx_packets", rx),
            ("/sys/class/net/can0/statistics/rx_errors", errors),
            ("/sys/class/net/can0/statistics/rx_dropped", dropped),
        ]);
        found(&root, None)
    };
    assert_eq!(grade(&bus("3", "5000", "0"), "bit rate"), Some(Grade::Bad));
    assert_eq!(grade(&bus("90000", "3", "0"), "bit rate"), None);
    assert_eq!(
        grade(&bus("90000", "0", "17"), "17 frames lost"),
        Some(Grade::Weak)
    );
    let down = machine(&[
        ("/sys/class/net/can0/type", "280"),
        ("/sys/class/net/can0/flags", "0x40080"),
    ]);
    assert_eq!(grade(&found(&down, None), "is down"), Some(Grade::Bad));
}

/// The sysctl file as it is shipped.
const SYSCTL: &str = include_str!("../../../systemd/seepd.sysctl");

#[test]
fn too_little_room_for_waiting_frames_is_told_and_the_shipped_setting_is_enough() {
    let shipped = SYSCTL
        .lines()
        .find_map(|l| l.strip_prefix("net.core.rmem_max = "))
        .expect("it sets the room");
    let graded = |bytes: &str| {
        let root = machine(&[("/proc/sys/net/core/rmem_max", bytes)]);
        grade(&found(&root, None), "room for waiting frames")
    };
    assert_eq!(graded(shipped), Some(Grade::Good));
    assert_eq!(
        graded("212992\n"),
        Some(Grade::Weak),
        "the kernel's default"
    );
    assert_eq!(graded("8388607"), Some(Grade::Weak));
    assert_eq!(graded("many"), Some(Grade::Unknown));
    let told = found(&machine(&[("/proc/sys/net/core/rmem_max", "212992")]), None);
    let told = told.iter().find(|f| f.what.contains("room")).expect("told");
    assert!(told.seen.contains("2.5 % of the 8388608"), "{}", told.seen);
    assert!(told.seen.contains("0.06 s"), "{}", told.seen);
    assert!(told.remedy.contains("seepd.sysctl"), "{}", told.remedy);
}

#[test]
fn room_for_frames_is_not_asked_of_a_rig_without_a_bus() {
    let root = machine(&[("/proc/sys/net/core/rmem_max", "212992")]);
    let start = RIG.find("[[source]]\nname = \"bus\"").expect("there");
    let end = RIG.find("[[source]]\nname = \"box\"").expect("there");
    let rig = Rig::parse(&format!("{}{}", &RIG[..start], &RIG[end..])).expect("valid");
    let findings = examine(&Host {
        root: root.path(),
        rig: Some(&rig),
        log: None,
    });
    assert_eq!(grade(&findings, "room for waiting frames"), None);
}

#[test]
fn mounts_that_lose_data_are_told() {
    let root = machine(&[]);
    let folder = root.path().canonicalize().expect("there");
    let log = folder.join("trip.db");
    let line = |kind: &str, options: &str, more: &str| {
        format!(
            "20 1 8:1 / / rw - ext4 /dev/root rw,errors=remount-ro\n\
             30 20 8:2 / {} {options} shared:1 - {kind} /dev/mmcblk0p2 {more}\n",
            folder.display()
        )
    };
    let grade_of = |kind, options, more, word: &str| {
        grade(&mounts(&root, &log, &line(kind, options, more)), word)
    };
    assert_eq!(grade_of("vfat", "rw", "rw", "vfat"), Some(Grade::Bad));
    assert_eq!(
        grade_of(
            "ext4",
            "rw",
            "rw,data=writeback,errors=remount-ro",
            "writeback"
        ),
        Some(Grade::Bad)
    );
    assert_eq!(
        grade_of("ext4", "rw", "rw", "errors=remount-ro"),
        Some(Grade::Weak)
    );
    assert_eq!(grade_of("ext4", "ro", "ro", "read-only"), Some(Grade::Bad));
    assert_eq!(
        grade_of("ext4", "rw", "rw,errors=remount-ro", "journalled"),
        Some(Grade::Good)
    );
}

#[test]
fn a_log_of_a_newer_program_is_told() {
    let root = machine(&[]);
    let log = root.path().join("trip.db");
    drop(seep_common::store::Writer::create(&log).expect("made"));
    let newer = rusqlite::Connection::open(&log).expect("opens");
    newer.pragma_update(None, "user_version", 99).expect("set");
    drop(newer);
    assert_eq!(
        grade(&found(&root, Some(&log)), "newer seep"),
        Some(Grade::Bad)
    );
}
