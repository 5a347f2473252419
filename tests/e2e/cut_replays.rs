//! Truncated logs through the whole of `seepd replay`: what is recorded from a
//! cut log is what is recorded from its whole lines, and one more bad line
//! (candump) or the discarded bytes (NMEA) in the counters.

use seep_tests::contents::Contents;
use seep_tests::scratch::{listing, scratch};
use seep_tests::seeded::Seeded;
use seep_tests::{SCENARIOS, replay_in_process, sample};
use std::path::{Path, PathBuf};

/// A log that is cut at many places.
struct Subject {
    rig: PathBuf,
    bytes: Vec<u8>,
    folder: tempfile::TempDir,
}

/// What a replay of a cut log came to.
#[derive(Debug, Clone, PartialEq)]
struct Came {
    code: u8,
    contents: Option<Contents>,
}

impl Subject {
    fn new(scenario: &str, file: &str) -> Self {
        Subject {
            rig: sample(scenario).join("rig.toml"),
            bytes: std::fs::read(sample(scenario).join(file)).expect("checked in"),
            folder: scratch(),
        }
    }

    /// Replay the first `cut` bytes. Whatever comes, the input is left alone,
    /// nothing but the log is made, and a refusal names the file.
    fn replay(&self, cut: usize) -> Came {
        let input = self.folder.path().join("cut.log");
        let log = self.folder.path().join("out.db");
        std::fs::write(&input, &self.bytes[..cut]).expect("written");
        let (code, said) = replay_in_process(&self.rig, &log, &[&input]);
        let contents = (code == 0).then(|| Contents::of(&log));
        if code == 0 {
            std::fs::remove_file(&log).expect("a log was made");
        } else {
            assert_eq!(code, 65, "byte {cut}: {said}");
            assert!(said.contains("cut.log"), "byte {cut}: {said}");
        }
        let left = listing(self.folder.path());
        assert_eq!(left.len(), 1, "byte {cut}: {:?}", left.keys());
        assert!(left["cut.log"] == self.bytes[..cut], "byte {cut}");
        Came { code, contents }
    }

    /// The line that holds byte `at`: its first byte and the byte after its end.
    fn line(&self, at: usize) -> (usize, usize) {
        let newline = |b: &u8| *b == b'\n';
        let start = self.bytes[..at].iter().rposition(newline);
        let end = self.bytes[at..].iter().position(newline);
        (
            start.map_or(0, |i| i + 1),
            end.map_or(self.bytes.len(), |i| at + i + 1),
        )
    }

    /// Cut one line at these bytes and compare each with its whole lines.
    fn check(&self, line: (usize, usize), cuts: impl Iterator<Item = usize>) {
        let before = self.replay(line.0);
        let after = self.replay(line.1);
        for cut in cuts {
            let came = self.replay(cut);
            if self.bytes.starts_with(b"#") {
                candump_treatment(&before, came, cut, line);
            } else {
                let text = self.bytes[line.0..line.1].trim_ascii_end().len();
                nmea_treatment(&before, &after, came, cut, (line.0, line.0 + text));
            }
        }
    }

    /// `lines` seeded lines, each cut at `each` seeded bytes.
    fn check_seeded(&self, seed: u64, lines: usize, each: usize) {
        let mut seeded = Seeded::new(seed);
        for _ in 0..lines {
            let line = self.line(seeded.below(self.bytes.len()));
            let cuts: Vec<_> = (0..each)
                .map(|_| line.0 + seeded.below(line.1 - line.0))
                .collect();
            self.check(line, cuts.into_iter());
        }
    }

    /// Every byte of the first lines up to `upto`.
    fn check_start(&self, upto: usize) {
        let mut start = 0;
        while start < upto {
            let line = self.line(start);
            self.check(line, line.0..line.1);
            start = line.1;
        }
    }
}

fn candump_treatment(before: &Came, mut came: Came, cut: usize, line: (usize, usize)) {
    if let (Some(contents), Some(_)) = (&mut came.contents, &before.contents) {
        for name in ["log lines", "log malformed lines"] {
            let key = ("bus".to_string(), name.to_string());
            let counted = contents.counters.entry(key.clone()).or_default();
            *counted -= i64::from(cut > line.0);
            if *counted == 0 {
                contents.counters.remove(&key);
            }
        }
    }
    assert!(came == *before, "byte {cut} is not the lines before it");
}

fn nmea_treatment(before: &Came, after: &Came, mut came: Came, cut: usize, text: (usize, usize)) {
    let (whole, gathered) = (cut >= text.1, (cut - text.0) as i64);
    let mut expected = if whole { after.clone() } else { before.clone() };
    if let (Some(contents), Some(expected)) = (&mut came.contents, &mut expected.contents) {
        assert_eq!(contents.take_count("box", "bytes"), cut as i64);
        expected.take_count("box", "bytes");
        let lost = contents.take_count("box", "discarded bytes");
        assert_eq!(lost, if whole { 0 } else { gathered }, "byte {cut}");
    }
    assert!(
        came == expected,
        "byte {cut} is not the sentences before it"
    );
}

/// The kind of each checked-in log and the seed of its cuts.
fn subjects(file: &'static str) -> impl Iterator<Item = (u64, Subject)> {
    let numbered = (1..).zip(SCENARIOS);
    numbered.map(move |(seed, scenario)| (seed, Subject::new(scenario, file)))
}

#[test]
fn a_candump_log_cut_at_every_byte_of_its_start() {
    Subject::new("healthy-road-trip", "bus.candump.log").check_start(600);
}

#[test]
fn an_nmea_capture_cut_at_every_byte_of_its_start() {
    Subject::new("healthy-road-trip", "box.nmea.log").check_start(600);
}

#[test]
fn candump_logs_cut_at_two_hundred_seeded_bytes_each() {
    for (seed, subject) in subjects("bus.candump.log") {
        subject.check_seeded(seed, 20, 10);
    }
}

#[test]
fn nmea_captures_cut_at_two_hundred_seeded_bytes_each() {
    for (seed, subject) in subjects("box.nmea.log") {
        subject.check_seeded(seed, 20, 10);
    }
}

/// Both logs together, both cut: what happens when the power goes.
#[test]
fn both_logs_cut_together_are_recorded_as_far_as_they_go() {
    let folder = scratch();
    let (bus, wire) = (folder.path().join("bus"), folder.path().join("box"));
    let log = folder.path().join("out.db");
    let whole = |file: &str| std::fs::read(sample("kinked-line").join(file)).expect("log");
    let (frames, sentences) = (whole("bus.candump.log"), whole("box.nmea.log"));
    let mut seeded = Seeded::new(9);
    for _ in 0..20 {
        let (a, b) = (seeded.below(frames.len()), seeded.below(sentences.len()));
        std::fs::write(&bus, &frames[..a.max(200)]).expect("written");
        std::fs::write(&wire, &sentences[..b.max(400)]).expect("written");
        let rig = sample("kinked-line").join("rig.toml");
        let inputs: [&Path; 2] = [&bus, &wire];
        let (code, said) = replay_in_process(&rig, &log, &inputs);
        assert_eq!(code, 0, "bytes {a} and {b}: {said}");
        let contents = Contents::of(&log);
        assert!(!contents.t_ms.is_empty() && !contents.sessions.is_empty());
        std::fs::remove_file(&log).expect("made");
        assert_eq!(listing(folder.path()).len(), 2);
    }
}
