//! Signal extraction against the reference library cantools 45.1.0.
//!
//! The fixture holds random databases and payloads (invented) and what cantools
//! decodes from them; `reference/make_signals.py` makes it and describes its lines.
//! Set `SEEP_SIGNALS_FIXTURE` to the path of another one to check a fresh set.

#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_macros,
    reason = "a test reads its fixture and says what it compared"
)]

use seep_common::codec::dbc::{Database, Extracted, NumberKind, Raw, Signal};
use std::collections::HashMap;

/// Integers up to here are exact in a double.
const EXACT_BELOW: f64 = 9_007_199_254_740_992.0;

/// What was compared, so that a thin fixture cannot pass for a check.
#[derive(Debug, Default)]
struct Compared {
    signals: usize,
    present: usize,
    absent: usize,
    too_short: usize,
    big_endian: usize,
    signed: usize,
    float: usize,
    not_finite: usize,
    multiplexed: usize,
    nested: usize,
    beyond_eight_bytes: usize,
}

/// One frame of the fixture with the values of the signals present in it.
#[derive(Debug, Default)]
struct Frame {
    id: u32,
    extended: bool,
    data: Vec<u8>,
    values: HashMap<String, (String, String)>,
}

fn fixture() -> String {
    let checked_in = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/reference/signals_cantools.txt"
    );
    let path = std::env::var("SEEP_SIGNALS_FIXTURE").unwrap_or_else(|_| checked_in.to_string());
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn bytes_of(hex: &str) -> Vec<u8> {
    hex.trim_start_matches('-')
        .as_bytes()
        .chunks(2)
        .map(|pair| {
            let pair = std::str::from_utf8(pair).expect("ASCII fixture");
            u8::from_str_radix(pair, 16).expect("hexadecimal data")
        })
        .collect()
}

/// Databases of the fixture, each with its frames.
fn read(text: &str) -> Vec<(String, Vec<Frame>)> {
    let mut found: Vec<(String, Vec<Frame>)> = Vec::new();
    for line in text.lines() {
        let mut words = line.split(' ');
        match words.next() {
            Some("#") | None => {}
            Some("D") => found.push(Default::default()),
            Some("|") => {
                let (database, _) = found.last_mut().expect("D comes first");
                database.push_str(line.strip_prefix("| ").unwrap_or_default());
                database.push('\n');
            }
            Some("F") => {
                let mut word = || words.next().expect("three words after F");
                let frame = Frame {
                    id: word().parse().expect("an identifier"),
                    extended: word() == "1",
                    data: bytes_of(word()),
                    values: HashMap::new(),
                };
                found.last_mut().expect("D comes first").1.push(frame);
            }
            Some("S") => {
                let mut word = || words.next().expect("three words after S").to_string();
                let (path, raw, scaled) = (word(), word(), word());
                let frames = &mut found.last_mut().expect("D comes first").1;
                let frame = frames.last_mut().expect("F comes before S");
                frame.values.insert(path, (raw, scaled));
            }
            Some(other) => panic!("line kind `{other}` is not known"),
        }
    }
    found
}

#[test]
fn every_signal_agrees() {
    let mut compared = Compared::default();
    for (text, frames) in read(&fixture()) {
        let database =
            Database::parse("fixture", &text).unwrap_or_else(|error| panic!("{error}\n{text}"));
        assert_eq!(database.notes(), [], "{text}");
        count_signals(&database, &text, &mut compared);
        for frame in &frames {
            compare(&database, frame, &mut compared);
        }
    }
    println!("{compared:?}");
    for (what, count, least) in [
        ("signals", compared.signals, 1_200),
        ("values", compared.present, 3_000),
        ("absent", compared.absent, 500),
        ("too short", compared.too_short, 200),
        ("big-endian", compared.big_endian, 300),
        ("signed", compared.signed, 300),
        ("floating point", compared.float, 60),
        ("not finite", compared.not_finite, 5),
        ("multiplexed", compared.multiplexed, 400),
        ("multiplexed twice", compared.nested, 50),
        ("beyond eight bytes", compared.beyond_eight_bytes, 100),
    ] {
        assert!(count >= least, "only {count} {what} in the fixture");
    }
}

fn count_signals(database: &Database, text: &str, compared: &mut Compared) {
    let written = |mark: &str| text.matches(mark).count();
    compared.big_endian += written("@0");
    // A signal behind two multiplexers: its own is not the outermost, `S0`.
    compared.nested += written(" S1 0-") + written(" S1 1-") + written(" S1 2-");
    for message in database.messages() {
        compared.signals += message.signals.len();
        for signal in &message.signals {
            compared.multiplexed += usize::from(signal.is_multiplexed());
            compared.signed += usize::from(signal.number == NumberKind::Signed);
            let float = matches!(signal.number, NumberKind::Float32 | NumberKind::Float64);
            compared.float += usize::from(float);
            compared.beyond_eight_bytes += usize::from(signal.layout.bytes_needed() > 8);
        }
    }
}

fn compare(database: &Database, frame: &Frame, compared: &mut Compared) {
    let message = database
        .messages()
        .iter()
        .find(|message| message.matches(frame.id, frame.extended))
        .expect("every frame has its message");
    let mut met = 0;
    for signal in &message.signals {
        let path = format!("{}.{}", message.name, signal.name);
        let about = format!("{path} in {:02X?}", frame.data);
        match frame.values.get(&path) {
            Some((raw, scaled)) => {
                met += 1;
                compare_raw(signal, &frame.data, raw, &about);
                compare_scaled(signal, &frame.data, raw, scaled, &about, compared);
            }
            None => match signal.extract(&frame.data) {
                Extracted::OtherMultiplex => compared.absent += 1,
                Extracted::TooShort => compared.too_short += 1,
                other => panic!("{about}: {other:?}, absent for cantools"),
            },
        }
    }
    assert_eq!(met, frame.values.len(), "a signal that we do not know");
}

/// Raw numbers are equal, every bit of them.
fn compare_raw(signal: &Signal, data: &[u8], raw: &str, about: &str) {
    let equal = match signal.raw(data).expect("present") {
        Raw::Unsigned(ours) => raw.parse() == Ok(ours),
        Raw::Signed(ours) => raw.parse() == Ok(ours),
        Raw::Float(ours) => {
            let theirs: f64 = raw.parse().expect("a number");
            ours.to_bits() == theirs.to_bits() || ours.is_nan() && theirs.is_nan()
        }
    };
    assert!(equal, "{about}: raw {:?}, {raw} expected", signal.raw(data));
}

/// Scaled values: equal when both are whole and exact, else to 1e-12 of the larger
/// of the two terms of `raw · scale + offset`.
fn compare_scaled(
    signal: &Signal,
    data: &[u8],
    raw: &str,
    scaled: &str,
    about: &str,
    compared: &mut Compared,
) {
    compared.present += 1;
    let theirs: f64 = scaled.parse().expect("a number");
    let ours = match signal.extract(data) {
        Extracted::Value(ours) => ours,
        Extracted::NotFinite if !theirs.is_finite() => {
            compared.not_finite += 1;
            return;
        }
        other => panic!("{about}: {other:?}, {scaled} expected"),
    };
    let raw: f64 = raw.parse().expect("a number");
    let terms = (raw * signal.scale).abs().max(signal.offset.abs());
    let whole = ours.fract() == 0.0 && theirs.fract() == 0.0;
    let tolerance = if whole && terms < EXACT_BELOW {
        0.0
    } else {
        1e-12 * terms
    };
    assert!(
        (ours - theirs).abs() <= tolerance,
        "{about}: {ours}, {theirs} expected"
    );
}
