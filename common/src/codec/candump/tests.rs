use super::*;
use crate::codec::can::{CanFrame, Direction, FrameKind, InterfaceName};
use proptest::prelude::*;

fn read(portions: &[&[u8]]) -> (Vec<CanFrame>, LineReader) {
    let mut reader = LineReader::new();
    let mut frames = Vec::new();
    for portion in portions {
        reader.push(portion, &mut |frame| frames.push(*frame));
    }
    reader.finish();
    (frames, reader)
}

/// **Source**: the examples of can-utils, `lib.h`, comment of `parse_canframe`,
/// with the meaning it gives them; `R8_E` and `…88_E` (raw length code) from memory.
#[test]
fn reads_every_example_of_the_can_utils() {
    let parse = |frame: &str| {
        let line = format!("(1436509052.249713) can0 {frame}");
        parse_line(line.as_bytes()).unwrap_or_else(|error| panic!("{frame}: {error}"))
    };
    let eight = [0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88];
    for (text, id, extended, data) in [
        ("123#", 0x123, false, &[][..]),
        ("12345678#", 0x1234_5678, true, &[]),
        ("123#00", 0x123, false, &[0]),
        ("123#1122334455667788", 0x123, false, &eight),
        ("123#11.22.33.44.55.66.77.88", 0x123, false, &eight),
        ("123#11.2233.44556677.88", 0x123, false, &eight),
        ("123#1122334455667788_E", 0x123, false, &eight),
    ] {
        let frame = parse(text);
        assert_eq!((frame.id, frame.extended), (id, extended), "{text}");
        assert_eq!(
            (frame.kind, frame.data()),
            (FrameKind::Data, data),
            "{text}"
        );
    }
    for (text, length) in [
        ("123#R", 0),
        ("123#R0", 0),
        ("123#R7", 7),
        ("7A1#r", 0),
        ("12345678#R5", 5),
        ("123#R8_E", 8),
    ] {
        let frame = parse(text);
        assert_eq!(
            (frame.kind, frame.length()),
            (FrameKind::Remote, length),
            "{text}"
        );
    }
    for (text, flags, len) in [
        ("123##0112233", 0, 3),
        ("123##1112233", 1, 3),
        ("123##2112233", 2, 3),
        ("123##3", 3, 0),
    ] {
        let frame = parse(text);
        assert_eq!(
            (frame.fd_flags, frame.data().len()),
            (Some(flags), len),
            "{text}"
        );
    }
    let error = parse("32345678#112233");
    assert_eq!((error.kind, error.id), (FrameKind::Error, 0x1234_5678));
}

/// **Source**: written by the reference library python-can 4.6.1
/// (`CanutilsLogWriter`) from invented messages.
const PYTHON_CAN_LOG: &str = "\
(1754820000.000123) can0 18FE58FE#03147B13C518FFFF R
(1754820000.100000) can0 123# T
(1754820000.250000) vcan1 7FF#R R
(1754820001.500000) can1 123##3000102030405060708090A0B R
(1754820002.999999) can0 20000080#0000000000000000
";

#[test]
fn a_log_of_the_reference_library_is_read_and_written_the_same() {
    let (frames, reader) = read(&[PYTHON_CAN_LOG.as_bytes()]);
    assert_eq!(reader.counts().malformed, 0);
    assert_eq!(frames[0].t_us, 1_754_820_000_000_123);
    assert_eq!(frames[0].data()[..2], [0x03, 0x14]);
    assert_eq!(frames[1].direction, Direction::Sent);
    assert_eq!(frames[2].kind, FrameKind::Remote);
    assert_eq!((frames[3].fd_flags, frames[3].data().len()), (Some(3), 12));
    assert_eq!((frames[4].kind, frames[4].id), (FrameKind::Error, 0x80));
    let mut written = Vec::new();
    for frame in &frames {
        append_line(frame, &mut written);
    }
    assert_eq!(String::from_utf8_lossy(&written), PYTHON_CAN_LOG);
}

#[test]
fn time_is_exact_to_the_microsecond() {
    for (text, t_us) in [
        ("(1436509052.249713)", 1_436_509_052_249_713),
        ("(0000000000.000001)", 1),
        ("(1.5)", 1_500_000),
        ("(1.123456789)", 1_123_456),
        ("(-0000000001.500000)", -1_500_000),
        ("(9223372036854.775807)", i64::MAX),
    ] {
        let frame = parse_line(format!("{text} can0 123#").as_bytes()).expect(text);
        assert_eq!(frame.t_us, t_us, "{text}");
    }
    assert!(parse_line(b"(9223372036854.775808) can0 123#").is_err());
}

#[test]
fn direction_padding_and_line_ends_are_accepted() {
    let log = b"(1.000000)     can0 123#11 R\r\n(1.000001) vcan12 123#11 T\n";
    let (frames, reader) = read(&[log]);
    assert_eq!(frames[0].direction, Direction::Received);
    assert_eq!(frames[1].direction, Direction::Sent);
    assert_eq!(frames[1].interface.as_str(), "vcan12");
    assert_eq!(reader.counts().frames, 2);
}

#[test]
fn bad_lines_are_counted_and_the_first_ones_kept() {
    let bad = [
        ("1.0 can0 123#", Malformed::Timestamp),
        ("(1.0) ", Malformed::Interface),
        ("(1.0) can0", Malformed::Identifier),
        ("(1.0) can0 800#", Malformed::Identifier),
        ("(1.0) can0 40000000#", Malformed::Identifier),
        ("(1.0) can0 123#1", Malformed::Data),
        ("(1.0) can0 123#112233445566778899", Malformed::Data),
        ("(1.0) can0 123#11 X", Malformed::Trailing),
        ("(1.0) can0 123#R9", Malformed::Data),
    ];
    let mut log: Vec<u8> = bad
        .iter()
        .flat_map(|(line, _)| format!("{line}\n").into_bytes())
        .collect();
    log.extend_from_slice(b"# invented\n\n; note\n(1.0) can0 123#\n");
    let (frames, reader) = read(&[&log]);
    assert_eq!(frames.len(), 1);
    let counts = reader.counts();
    assert_eq!(
        (counts.malformed, counts.comments, counts.lines),
        (9, 3, 13)
    );
    assert_eq!(reader.bad_lines().len(), 8, "only the first few are kept");
    for (kept, (line, what)) in reader.bad_lines().iter().zip(bad) {
        assert_eq!(kept.what, what, "{line}");
    }
    assert_eq!(reader.bad_lines()[2].line, 3);
}

#[test]
fn a_truncated_last_line_is_not_taken_for_a_shorter_frame() {
    let (frames, reader) = read(&[b"(1.0) can0 123#1122\n(2.0) can0 123#11"]);
    assert_eq!(frames.len(), 1);
    assert_eq!(reader.bad_lines()[0].what, Malformed::Unterminated);
    assert_eq!(reader.bad_lines()[0].line, 2);
}

#[test]
fn losses_told_by_the_writer_of_the_log_are_counted() {
    let log = b"DROPCOUNT: dropped 17 CAN frames on 'can0' socket (total drops 17)\n\
                DROPCOUNT: dropped 1 CAN frame on 'can0' socket (total drops 18)\n";
    let (_, reader) = read(&[log]);
    assert_eq!(reader.counts().dropped_by_writer, 18);
    assert_eq!(reader.counts().malformed, 0);
}

#[test]
fn an_endless_line_costs_no_memory_and_one_count() {
    let mut reader = LineReader::new();
    for _ in 0..10_000 {
        reader.push(&[b'x'; 100], &mut |_| panic!("no frame here"));
    }
    assert!(reader.carry_capacity() <= 1024);
    let mut frames = 0;
    reader.push(b"\n(1.0) can0 123#\n", &mut |_| frames += 1);
    assert_eq!(
        (frames, reader.bad_lines()[0].what),
        (1, Malformed::Overlong)
    );
}

fn any_frame() -> impl Strategy<Value = CanFrame> {
    (
        any::<i64>(),
        any::<u32>(),
        0..4u8,
        proptest::collection::vec(any::<u8>(), 0..=64),
        0..3u8,
    )
        .prop_map(|(t_us, id, form, data, direction)| {
            let extended = id & 1 == 1;
            let id = if extended { id >> 3 } else { id >> 21 };
            let classic = &data[..data.len().min(8)];
            let make = |data| CanFrame::new(id, extended, data).expect("id and data fit");
            let mut frame = match form {
                0 => make(classic),
                1 => {
                    let mut frame = make(&data);
                    frame.fd_flags = Some((id & 3) as u8);
                    frame
                }
                2 => make(&[]).into_remote(data.len() as u8),
                _ => CanFrame::error_report(id, classic).expect("8 bytes at most"),
            };
            frame.t_us = t_us;
            frame.interface = InterfaceName::new(b"vcan7").expect("short name");
            frame.direction = match direction {
                0 => Direction::Unknown,
                1 => Direction::Received,
                _ => Direction::Sent,
            };
            frame
        })
}

proptest! {
    #[test]
    fn printing_and_reading_are_inverse(frame in any_frame()) {
        let mut log = Vec::new();
        append_line(&frame, &mut log);
        let (frames, reader) = read(&[&log]);
        prop_assert_eq!(reader.counts().malformed, 0, "{}", String::from_utf8_lossy(&log));
        prop_assert_eq!(frames, vec![frame]);
    }

    #[test]
    fn where_the_bytes_are_split_does_not_matter(
        frames in proptest::collection::vec(any_frame(), 0..6),
        noise in proptest::collection::vec(any::<u8>(), 0..40),
        cuts in proptest::collection::vec(any::<prop::sample::Index>(), 0..6),
    ) {
        let mut log = Vec::new();
        for frame in &frames {
            append_line(frame, &mut log);
            log.extend_from_slice(&noise);
            log.push(b'\n');
        }
        let mut cuts: Vec<usize> = cuts.iter().map(|cut| cut.index(log.len() + 1)).collect();
        cuts.sort_unstable();
        let mut portions = Vec::new();
        let mut from = 0;
        for cut in cuts {
            portions.push(&log[from..cut]);
            from = cut;
        }
        portions.push(&log[from..]);
        let (whole, one) = read(&[&log]);
        let (parts, many) = read(&portions);
        prop_assert_eq!(whole, parts);
        prop_assert_eq!(one.counts(), many.counts());
        prop_assert_eq!(one.bad_lines(), many.bad_lines());
    }

    #[test]
    fn any_bytes_are_survived(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        let (frames, reader) = read(&[&bytes]);
        prop_assert_eq!(frames.len() as u64, reader.counts().frames);
    }
}
