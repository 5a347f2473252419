//! Every truncation of every sample log, at the readers: what a log cut at any
//! byte gives is what its whole lines give, plus one defined treatment of the
//! cut line.
//!
//! One pass is enough: the reader is fed byte by byte, and at every byte a copy
//! of it is told that the input ends there. What follows the reader (decoder,
//! timeline, ticks, store) sees nothing but the frames or sentences checked here;
//! `cut_replays` follows samples of the cuts through the whole program.

use seep_common::codec::candump::{LineReader, parse_line};
use seep_common::codec::nmea::{Item, Lexer};
use seep_common::time::WallMs;
use seep_tests::{SCENARIOS, sample};

fn log(scenario: &str, file: &str) -> Vec<u8> {
    std::fs::read(sample(scenario).join(file)).expect("checked in")
}

/// A candump line without its end is never a frame: a payload cut short looks
/// like a whole shorter one. It is counted as one bad line.
#[test]
fn a_candump_log_cut_anywhere_gives_its_whole_lines_and_one_bad_line() {
    let mut cuts = 0;
    for scenario in SCENARIOS {
        cuts += candump_cuts(&log(scenario, "bus.candump.log"));
    }
    println!("{cuts} cuts of candump logs");
    assert!(cuts > 1_000_000, "only {cuts} cuts");
}

fn candump_cuts(bytes: &[u8]) -> usize {
    let (mut reader, mut given) = (LineReader::new(), Vec::new());
    let (mut lines, mut frames) = (0u64, Vec::new());
    let mut start = 0;
    for cut in 0..=bytes.len() {
        let mut ended = reader.clone();
        ended.finish();
        let (counts, torn) = (ended.counts(), u64::from(cut > start));
        assert_eq!(given.len(), frames.len(), "frames at byte {cut}");
        assert_eq!(counts.frames, frames.len() as u64, "byte {cut}");
        assert_eq!(counts.lines, lines + torn, "byte {cut}");
        assert_eq!(counts.malformed, torn, "byte {cut}");
        assert_eq!(counts.comments, lines - counts.frames, "byte {cut}");
        assert_eq!(ended.bad_lines().len() as u64, torn, "byte {cut}");
        let Some(&byte) = bytes.get(cut) else { break };
        reader.push(&[byte], &mut |frame| given.push(*frame));
        if byte == b'\n' {
            frames.extend(parse_line(&bytes[start..cut]));
            (lines, start) = (lines + 1, cut + 1);
            assert_eq!(given.last(), frames.last(), "line {lines}");
        }
    }
    bytes.len() + 1
}

/// A sentence is whole with its checksum, line end or not; what is cut before
/// that is discarded, byte for byte counted.
#[test]
fn an_nmea_capture_cut_anywhere_gives_its_whole_sentences_and_discards_the_rest() {
    let mut cuts = 0;
    for scenario in SCENARIOS {
        cuts += nmea_cuts(&log(scenario, "box.nmea.log"));
    }
    println!("{cuts} cuts of NMEA captures");
    assert!(cuts > 9_000_000, "only {cuts} cuts");
}

fn nmea_cuts(bytes: &[u8]) -> usize {
    let mut lexer = Lexer::new();
    let (mut given, mut lines) = (0, 0);
    let mut start = 0;
    let mut whole = bytes
        .split_inclusive(|&b| b == b'\n')
        .map(CapturedLine::new);
    let mut line = whole.next();
    for cut in 0..=bytes.len() {
        let gathered = cut - start;
        let text = line.as_ref().map_or(0, |l| l.text.len());
        let is_whole = gathered > 0 && gathered >= text;
        let mut ended = lexer.clone();
        ended.finish(&mut |item| match item {
            Item::Discarded { bytes } => assert_eq!(bytes as usize, gathered),
            other => panic!("byte {cut}: {other:?}"),
        });
        let counts = ended.counts();
        assert_eq!(
            given,
            lines + u64::from(is_whole),
            "sentences at byte {cut}"
        );
        assert_eq!(counts.sentences, given, "byte {cut}");
        let lost = if is_whole { 0 } else { gathered };
        assert_eq!(counts.discarded_bytes, lost as u64, "byte {cut}");
        assert_eq!(counts.bytes, cut as u64);
        assert_eq!(troubles(&counts), 0, "byte {cut}");
        let Some(&byte) = bytes.get(cut) else { break };
        lexer.push(&[byte], &mut |item| match (item, &line) {
            (Item::Sentence(s), Some(line)) => {
                let fields: Vec<&str> = s.fields().collect();
                let (address, rest) = line.body.split_once(',').expect("fields");
                assert!(address.ends_with(s.formatter()), "byte {cut}");
                assert_eq!(fields.join(","), rest, "byte {cut}");
                assert_eq!(s.tag_ms, Some(WallMs(line.time_ms)));
                given += 1;
            }
            other => panic!("byte {cut}: {other:?}"),
        });
        if byte == b'\n' {
            (lines, start) = (lines + 1, cut + 1);
            line = whole.next();
        }
    }
    bytes.len() + 1
}

fn troubles(counts: &seep_common::codec::nmea::LexerCounts) -> u64 {
    counts.bad_checksums + counts.missing_checksums + counts.bad_tag_blocks + counts.overlong
}

/// A line of a sample capture taken apart by other means than the lexer's:
/// `\c:TIME*hh\$BODY*hh` and a line end.
#[derive(Debug)]
struct CapturedLine<'a> {
    text: &'a str,
    time_ms: i64,
    body: &'a str,
}

impl<'a> CapturedLine<'a> {
    fn new(line: &'a [u8]) -> Self {
        let text = std::str::from_utf8(line).expect("ASCII").trim_end();
        let mut parts = text.split(['\\', '$']);
        let tag = parts.nth(1).expect("a TAG block");
        let sentence = parts.nth(1).expect("a sentence");
        let time = tag.strip_prefix("c:").expect("a time");
        let time = time.split('*').next().expect("a time");
        CapturedLine {
            text,
            time_ms: time.parse().expect("milliseconds"),
            body: sentence.split('*').next().expect("a body"),
        }
    }
}
