//! The sensor board of `daemon/board`: its sketch compiled for this computer, its
//! Rust twin byte for byte beside it, and the sketch played through a pseudo
//! terminal into the recorder. All inputs are invented.

use super::live::line::{Device, wait};
use super::live::process::Bench;
use seep_common::codec::nmea::{Item, Lexer, transducers};
use seep_common::time::LogMs;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// Time that the board believes to pass, s.
const PLAYED_S: &str = "600";

/// The board's clock runs so many times faster than this computer's, which keeps
/// the test short; the recorder takes what comes when it comes.
const TIMES_FASTER: &str = "60";

fn board_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../daemon/board")
}

/// The sketch compiled for this computer; none, said loudly, without a C++ compiler.
pub(crate) fn sketch(into: &Path) -> Option<PathBuf> {
    let (folder, program) = (board_folder(), into.join("sketch"));
    let done = Command::new("c++")
        .args(["-std=c++11", "-O1", "-Wall", "-Wextra", "-Werror"])
        .args(["-DSEEP_BOARD_HOST", "-I"])
        .arg(folder.join("host"))
        .args(["-x", "c++"])
        .arg(folder.join("host/main.cpp"))
        .arg(folder.join("seep_board/seep_board.ino"))
        .arg("-o")
        .arg(&program)
        .output();
    let Ok(done) = done else {
        println!("SKIPPED: no C++ compiler (c++); the sensor board's sketch was not compiled");
        return None;
    };
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{said}");
    Some(program)
}

/// Everything the sketch sends, at once.
fn sent_by(sketch: &Path) -> Vec<u8> {
    let done = Command::new(sketch).args([PLAYED_S, "0"]).output();
    let done = done.expect("starts");
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{said}");
    done.stdout
}

/// A sketch that is played into a line until it ends or this is dropped.
pub(crate) struct Player(Child);

impl Player {
    pub(crate) fn start(sketch: &Path, seconds: &str, faster: &str, into: &Device) -> Self {
        let child = Command::new(sketch)
            .args([seconds, faster])
            .stdout(into.far_end())
            .spawn();
        Player(child.expect("starts"))
    }

    pub(crate) fn wait(&mut self) {
        assert!(self.0.wait().expect("ends").success());
    }
}

impl Drop for Player {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Readings by transducer, and texts.
fn readings(sent: &[u8]) -> (BTreeMap<String, u64>, Vec<String>) {
    let (mut counts, mut texts) = (BTreeMap::new(), Vec::new());
    Lexer::new().push(sent, &mut |item| {
        let Item::Sentence(sentence) = item else {
            panic!("the board sent something else than sentences");
        };
        if sentence.formatter() == "TXT" {
            texts.push(
                sentence
                    .fields()
                    .next_back()
                    .unwrap_or_default()
                    .to_string(),
            );
        }
        for one in transducers(&sentence) {
            assert!(one.value.is_some(), "{one:?}");
            *counts.entry(one.name.to_string()).or_default() += 1;
        }
    });
    (counts, texts)
}

/// The rig of the sketch's inputs, with the channel of each transducer.
const CHANNELS: [(&str, &str); 10] = [
    ("tank_kpa_gauge", "TANK"),
    ("front_kpa_gauge", "FRONT"),
    ("rear_kpa_gauge", "REAR"),
    ("supply_v", "SUPPLY"),
    ("front_fill", "FRONT_FILL"),
    ("front_dump", "FRONT_DUMP"),
    ("rear_fill", "REAR_FILL"),
    ("rear_dump", "REAR_DUMP"),
    ("compressor_1_on", "COMPRESSOR"),
    ("ambient_c", "AIR"),
];

fn rig(line: &Path) -> String {
    let mut text = format!(
        "[vehicle]\nname = \"invented\"\n[tank]\nvolume_l = 19.0\n[[circuit]]\nname = \"front\"\n[[circuit]]\nname = \"rear\"\n[[compressor]]\nname = \"compressor_1\"\n[[source]]\nname = \"box\"\nkind = \"nmea\"\ndevice = \"{}\"\nbaud = 38400\nsilence_s = 5\n",
        line.display()
    );
    for (channel, transducer) in CHANNELS {
        text += &format!(
            "[[channel]]\nname = \"{channel}\"\nsource = \"box\"\ntransducer = \"{transducer}\"\n"
        );
        if channel.ends_with("kpa_gauge") {
            text += "calibrate = { two_point = [[0.5, 0.0], [4.5, 200.0]] }\nunit = \"psi\"\n";
        }
    }
    text
}

#[test]
fn ten_minutes_of_the_sketch_reach_the_recorder_whole() {
    let (bench, socket) = Bench::on_a_line();
    let Some(sketch) = sketch(bench.folder.path()) else {
        return;
    };
    let sent = sent_by(&sketch);
    let (expected, texts) = readings(&sent);
    assert_eq!(texts, ["seep-board 1.0.0"]);
    bench.write_rig(&rig(socket.name()));
    let device = socket.plug();
    let recorder = bench.start();
    device.wait_for_reader();
    Player::start(&sketch, PLAYED_S, TIMES_FASTER, &device).wait();
    let got = || -> Option<BTreeMap<String, u64>> {
        let status = bench.status()?;
        let channels = status["channels"].as_array()?.clone();
        let count = |c: &serde_json::Value| {
            let name = CHANNELS
                .iter()
                .find(|(channel, _)| c["name"] == *channel)?
                .1;
            Some((name.to_string(), c["readings"].as_u64()?))
        };
        channels.iter().map(count).collect()
    };
    wait(|| got().is_some_and(|got| got.values().sum::<u64>() >= expected.values().sum()));
    assert_eq!(got().expect("a status"), expected, "readings by transducer");
    let (code, said) = recorder.stop();
    assert_eq!(code, 0, "{said}");
    let total = expected.values().sum::<u64>();
    let sentences = sent.iter().filter(|&&byte| byte == b'$').count() as u64;
    let counters = bench
        .reader()
        .counters(LogMs::MIN, LogMs::MAX)
        .expect("read");
    let counted: BTreeMap<_, _> = counters
        .into_iter()
        .filter(|c| c.count > 0)
        .map(|c| (c.name, c.count as u64))
        .collect();
    // Nothing else was counted: no bad checksum, no overflow, nothing implausible.
    let whole = [
        ("bytes", sent.len() as u64),
        ("sentences", sentences),
        ("good sentences", sentences),
        ("xdr sentences", sentences - 1),
        ("readings", total),
        ("readings passed", total),
    ];
    assert_eq!(counted, whole.map(|(name, n)| (name.to_string(), n)).into());
    let notices = bench
        .reader()
        .notices(LogMs::MIN, LogMs::MAX)
        .expect("read");
    let named = |n: &&seep_common::store::Notice| n.text.contains("seep-board 1.0.0");
    assert_eq!(notices.iter().filter(named).count(), 1, "{notices:?}");
    println!(
        "{total} readings of {} transducers in {PLAYED_S} s of the board, {sentences} sentences: all arrived",
        expected.len()
    );
}

#[test]
fn the_board_paces_itself_by_what_moves() {
    let folder = tempfile::tempdir().expect("scratch");
    let Some(sketch) = sketch(folder.path()) else {
        return;
    };
    let (counts, _) = readings(&sent_by(&sketch));
    // Of 600 s the inputs move for 76 s (compressor 60, fill 6, dump 4, a pulse),
    // each followed by 5 s at the fast rate: about 10 a second then, else one.
    let fast_s = 60 + 6 + 4 + 4 * 5;
    let expected = 600 - fast_s + 10 * fast_s;
    let got = counts["TANK"];
    println!(
        "{got} sentences of each input in 600 s, {fast_s} s of them fast: {expected} expected"
    );
    assert!(got.abs_diff(expected) <= 20, "{got} for {expected}");
}

#[test]
fn the_rust_board_sends_the_same_bytes_as_the_sketch() {
    let folder = tempfile::tempdir().expect("scratch");
    let Some(sketch) = sketch(folder.path()) else {
        return;
    };
    let sentences = board_folder().join("sentences");
    let built = |args: &[&str], source: PathBuf| {
        let done = Command::new("rustc")
            .args(["--edition", "2024", "-O", "--out-dir"])
            .arg(folder.path())
            .args(args)
            .arg(source)
            .stderr(Stdio::piped())
            .output()
            .expect("rustc");
        let said = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success(), "{said}");
    };
    built(
        &["--crate-type", "lib", "--crate-name", "seep_board"],
        sentences.join("src/lib.rs"),
    );
    let library = format!("seep_board={}/libseep_board.rlib", folder.path().display());
    built(
        &["--crate-name", "play", "--extern", &library],
        sentences.join("examples/play.rs"),
    );
    let played = Command::new(folder.path().join("play"))
        .arg(PLAYED_S)
        .output();
    let rust = played.expect("starts").stdout;
    let cpp = sent_by(&sketch);
    assert!(rust.len() > 10_000, "{} bytes", rust.len());
    let differs = rust.iter().zip(&cpp).position(|(a, b)| a != b);
    assert_eq!((rust.len(), differs), (cpp.len(), None));
    println!("{} bytes, all the same", rust.len());
}
