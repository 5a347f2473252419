//! What the parts work on, made once by the parts before them.

use seep_common::codec::can::CanFrame;
use seep_common::codec::candump::LineReader;
use seep_common::codec::dbc::{Database, builtin};
use seep_common::codec::decode::{CanDecoder, NmeaDecoder};
use seep_common::codec::nmea::{Item, Lexer};
use seep_common::rig::{Rig, SourceKind};
use seep_common::sample::Sample;
use seep_common::store::Batch;
use seep_common::time::BootMs;
use seep_daemon::pipeline::Pipeline;
use seep_report::recording::{Recording, SpanRequest};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Five hours of which two are driving: all valves, both sources.
const TRIP: &str = "healthy-road-trip";

/// A night and the day around it.
const NIGHT: &str = "slow-leak-overnight";

/// A file of the trip's sample log.
pub(crate) fn file(name: &str) -> Vec<u8> {
    std::fs::read(path(TRIP, name)).expect("checked in")
}

pub(crate) fn rig() -> Rig {
    let text = String::from_utf8(file("rig.toml")).expect("text");
    Rig::parse(&text).expect("a rig")
}

/// The same car without wires at its valves and compressor.
pub(crate) fn unwired_rig() -> Rig {
    Rig::parse(&seep_tests::without_switches(&rig().text)).expect("a rig")
}

pub(crate) fn can_decoder(rig: &Rig) -> CanDecoder {
    let name = "builtin:j1939-air";
    let database = Database::parse(name, builtin(name).expect("built in")).expect("checked in");
    let bus = |kind: &SourceKind| matches!(kind, SourceKind::SocketCan { .. });
    CanDecoder::new(rig, source(rig, bus), &[database]).expect("the rig fits")
}

pub(crate) fn nmea_decoder(rig: &Rig) -> NmeaDecoder {
    let serial = |kind: &SourceKind| matches!(kind, SourceKind::Nmea { .. });
    NmeaDecoder::new(rig, source(rig, serial)).expect("the rig fits")
}

fn source(rig: &Rig, wanted: impl Fn(&SourceKind) -> bool) -> usize {
    let found = rig.sources.iter().position(|s| wanted(&s.kind));
    found.expect("the rig has both sources")
}

/// The frames of a candump log; the number of them.
pub(crate) fn frames(lines: &mut LineReader, log: &[u8], sink: &mut impl FnMut(&CanFrame)) -> u64 {
    lines.push(log, sink);
    lines.finish();
    lines.counts().frames
}

/// Every sentence of a capture to readings.
pub(crate) fn sentences(decoder: &mut NmeaDecoder, log: &[u8], sink: &mut impl FnMut(Sample)) {
    Lexer::new().push(log, &mut |item| {
        if let Item::Sentence(sentence) = item {
            let t_ms = BootMs(sentence.tag_ms.map_or(0, |t| t.0));
            decoder.decode(&sentence, t_ms, sink);
        }
    });
}

/// The readings of the trip, both sources, in the order of time.
pub(crate) fn samples() -> &'static [Sample] {
    static SAMPLES: OnceLock<Vec<Sample>> = OnceLock::new();
    SAMPLES.get_or_init(|| samples_for(&rig()))
}

/// What this rig takes of the readings of the trip.
pub(crate) fn samples_for(rig: &Rig) -> Vec<Sample> {
    let mut out = Vec::new();
    let mut bus = can_decoder(rig);
    frames(&mut LineReader::new(), &file(BUS), &mut |frame| {
        bus.decode(frame, BootMs(frame.t_us / 1000), &mut |s| out.push(s));
    });
    sentences(&mut nmea_decoder(rig), &file(BOX), &mut |s| out.push(s));
    out.sort_by_key(|s| s.t_ms);
    out
}

/// The candump log of the trip.
pub(crate) const BUS: &str = "bus.candump.log";

/// The capture of sentences of the trip.
pub(crate) const BOX: &str = "box.nmea.log";

/// The rows of the trip.
pub(crate) fn rows() -> &'static Batch {
    static ROWS: OnceLock<Batch> = OnceLock::new();
    ROWS.get_or_init(|| through(&mut Pipeline::new(&rig()), samples()))
}

/// Everything that a pipeline makes of these readings.
pub(crate) fn through(pipeline: &mut Pipeline, samples: &[Sample]) -> Batch {
    let first_ms = samples.first().map_or(BootMs(0), |s| s.t_ms);
    let last_ms = samples.last().map_or(BootMs(0), |s| s.t_ms);
    pipeline.begin(first_ms, &[true, true]);
    for sample in samples {
        pipeline.push(sample.channel, sample.t_ms, sample.value);
    }
    pipeline.finish(last_ms.plus(1));
    pipeline.take_batch().laid(|t| t.on_log(0))
}

/// A recording.
pub(crate) struct Log {
    pub(crate) path: PathBuf,
}

/// The folder of the recordings; `main` makes it and removes it.
pub(crate) static FOLDER: OnceLock<PathBuf> = OnceLock::new();

/// The trip as a recording.
pub(crate) fn trip() -> &'static Log {
    static LOG: OnceLock<Log> = OnceLock::new();
    LOG.get_or_init(|| replayed(TRIP))
}

/// The night as a recording.
pub(crate) fn night() -> &'static Log {
    static LOG: OnceLock<Log> = OnceLock::new();
    LOG.get_or_init(|| replayed(NIGHT))
}

fn replayed(sample: &str) -> Log {
    let folder = FOLDER.get().expect("main has set it");
    let log = folder.join(format!("{sample}.db"));
    let inputs = [path(sample, BUS), path(sample, BOX)];
    let inputs: Vec<&Path> = inputs.iter().map(PathBuf::as_path).collect();
    let (code, said) = seep_tests::replay_in_process(&path(sample, "rig.toml"), &log, &inputs);
    assert_eq!(code, 0, "{said}");
    Log { path: log }
}

impl Log {
    pub(crate) fn open(&self) -> Recording {
        Recording::open(&self.path, &SpanRequest::default()).expect("a sound log")
    }
}

fn path(sample: &str, name: &str) -> PathBuf {
    seep_tests::sample(sample).join(name)
}
