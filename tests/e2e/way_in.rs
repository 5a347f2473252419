//! A stranger's way: a board that was just plugged in, no rig, four commands to a
//! first report. The board is the sketch of `daemon/board`, its inputs are invented.

use super::board::{Player, sketch};
use super::live::line::Socket;
use super::live::process::Bench;
use super::{SEEP, SEEPD};
use seep_tests::{code, run};
use std::process::Output;

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[track_caller]
fn fine(done: &Output) -> String {
    assert_eq!(code(done), 0, "{}", text(&done.stderr));
    text(&done.stdout)
}

#[test]
fn four_commands_lead_from_an_unknown_board_to_a_first_report() {
    let (bench, socket) = Bench::on_a_line();
    let Some(sketch) = sketch(bench.folder.path()) else {
        return;
    };
    std::fs::remove_file(bench.rig()).expect("the stranger has none");
    let path = |p: std::path::PathBuf| p.display().to_string();
    let (line, rig, log) = (
        socket.name().display().to_string(),
        path(bench.rig()),
        path(bench.log()),
    );
    let device = socket.plug();
    let player = Player::start(&sketch, "3000", "20", &device);

    // 1. What speaks here?
    let heard = fine(&run(SEEPD, &["listen", "--port", &line, "--seconds", "2"]));
    assert!(heard.contains("38400 baud"), "{heard}");
    assert!(heard.contains(" 0 with a wrong checksum"), "{heard}");
    assert!(heard.contains("seep-board 1.0.0"), "{heard}");
    for transducer in ["TANK", "FRONT", "REAR", "SUPPLY", "COMPRESSOR", "AIR"] {
        assert!(heard.contains(transducer), "{heard}");
    }

    // 2. A rig from it.
    let done = run(
        SEEPD,
        &[
            "draft",
            "--port",
            &line,
            "--seconds",
            "2",
            "--tank-l",
            "19",
            "--sensor",
            "TANK=0..200psi",
            "--sensor",
            "FRONT=0..200psi",
            "--sensor",
            "REAR=0..200psi",
            "--out",
            &rig,
        ],
    );
    fine(&done);
    drop(player);
    socket.unplug(device);
    let checked = fine(&run(SEEPD, &["check", "--rig", &rig]));
    assert!(
        checked.contains("0.5 to 4.5 read as 0 to 1378.95 kPa"),
        "{checked}"
    );
    assert!(checked.contains("front has no volume"), "{checked}");

    // 3. Record: the board is plugged in again, ten minutes of its time.
    let device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    let mut player = Player::start(&sketch, "600", "60", &device);
    player.wait();
    bench.wait_for_readings(1_400);
    let (ended, said) = recorder.stop();
    assert_eq!(ended, 0, "{said}");

    // 4. The first report.
    let report = fine(&run(SEEP, &["trip", "--log", &log]));
    let first = report.lines().next().unwrap_or_default();
    assert!(first.starts_with("UNKNOWN: Nothing stands out"), "{report}");
    assert!(report.contains("Trip of My vehicle"), "{report}");
    let runs = report
        .lines()
        .find(|l| l.starts_with("  runs  "))
        .expect("runs of the compressor");
    assert!(runs.trim_end().ends_with(" 1"), "{runs}");
    // The invented tank stands at 5 V · 600/1023 before the compressor runs:
    // 121.6 psi of a sensor of 200 psi, 838 kPa.
    assert!(report.contains("838") || report.contains("839"), "{report}");
    for moved in ["front fill", "rear dump"] {
        assert!(report.contains(moved), "{report}");
    }
}

/// The speed of a line is found by its checksums: what comes at another speed is
/// noise.
#[test]
fn a_line_that_speaks_no_sentences_is_told_with_its_reason() {
    let folder = tempfile::tempdir().expect("scratch");
    let socket = Socket::new(folder.path());
    let _device = socket.plug();
    let line = socket.name().display().to_string();
    let done = run(SEEPD, &["listen", "--port", &line, "--seconds", "1"]);
    assert_eq!(code(&done), 1, "{}", text(&done.stderr));
    let done = run(SEEPD, &["draft", "--port", &line, "--seconds", "1"]);
    assert_eq!(code(&done), 65);
    assert!(
        text(&done.stderr).contains("nothing was heard"),
        "{}",
        text(&done.stderr)
    );
}

/// A log of somebody else's bus: brakes of J1939, a tank on NMEA 2000 and a
/// message that nobody knows. All frames are invented.
#[test]
fn a_bus_log_is_heard_by_name_and_drafted() {
    let folder = tempfile::tempdir().expect("scratch");
    let log = folder.path().join("bus.log");
    let mut frames = String::new();
    for i in 0..40 {
        let t = f64::from(i) / 4.0;
        let tenths_pa: u32 = 8_000_000 + 1_000 * i;
        let bytes = tenths_pa.to_le_bytes().map(|b| format!("{b:02X}")).concat();
        frames += &format!("({:.6}) can0 15FD0A21#FF0103{bytes}FF\n", 1e9 + t);
        frames += &format!(
            "({:.6}) can0 18FEFA0B#00D2{:02X}FDFFFFFFFF\n",
            1e9 + t,
            200 + i
        );
        frames += &format!("({:.6}) can0 321#0000{i:02X}\n", 1e9 + t);
    }
    std::fs::write(&log, frames).expect("written");
    let log = log.display().to_string();
    let heard = fine(&run(SEEPD, &["listen", &log]));
    for words in [
        "ActualPressure (130314)",
        "CompressedAir1 803.90 kPa",
        "B (65274)",
        "BrakePrimaryPressure 840.00 kPa",
    ] {
        assert!(heard.contains(words), "{words}: {heard}");
    }
    assert!(!heard.contains("CompressedAir0"), "{heard}");
    let unknown = heard
        .lines()
        .find(|l| l.contains("  321 "))
        .expect("listed");
    assert!(
        unknown.contains(" 4.1 ") || unknown.contains(" 4.0 "),
        "{unknown}"
    );
    let rig = folder.path().join("rig.toml").display().to_string();
    fine(&run(SEEPD, &["draft", &log, "--out", &rig]));
    let drafted = std::fs::read_to_string(&rig).expect("written");
    for words in [
        "\"other_air_1_kpa_gauge\"",
        "\"other_brake_1_kpa_gauge\"",
        "builtin:nmea2000-air",
        "builtin:j1939-air",
        "321 (bytes 2)",
    ] {
        assert!(drafted.contains(words), "{words}: {drafted}");
    }
    fine(&run(SEEPD, &["check", "--rig", &rig]));
    let recorded = folder.path().join("trip.db").display().to_string();
    let done = run(SEEPD, &["replay", "--rig", &rig, "--log", &recorded, &log]);
    fine(&done);
}
