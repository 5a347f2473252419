use super::{LogForm, LogTimes, Times, recognise};
use crate::codec::can::{CanFrame, Direction, FrameKind};
use crate::codec::candump::{LineCounts, LineReader, Malformed};

/// Frames of a log of any form, dates taken as UTC.
fn read_with(log: &[u8], times: LogTimes) -> (Vec<CanFrame>, LineReader) {
    let form = recognise(log).expect("a form that is known");
    let mut reader = LineReader::of(form, times);
    let mut frames = Vec::new();
    // Portions that end anywhere.
    for part in log.chunks(97) {
        reader.push(part, &mut |frame| frames.push(*frame));
    }
    reader.finish();
    (frames, reader)
}

fn read(log: &[u8]) -> (Vec<CanFrame>, LineCounts) {
    let (frames, reader) = read_with(log, LogTimes::default());
    (frames, reader.counts())
}

/// Files that python-can 4.6.1 and can-utils 2020.11 wrote from invented frames;
/// `make_can_logs.py` makes them again.
macro_rules! fixture {
    ($name:literal) => {
        include_bytes!(concat!("../../../tests/reference/can_logs/", $name))
    };
}

/// The frames of candump's own log, as the form can express them.
fn expected(log: &[u8], as_written: impl Fn(&mut CanFrame)) -> Vec<CanFrame> {
    let (mut frames, counts) = read(log);
    assert_eq!(counts.malformed, 0);
    frames.iter_mut().for_each(as_written);
    frames
}

#[track_caller]
fn assert_same(found: &[CanFrame], expected: &[CanFrame], within_us: i64) {
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(expected) {
        assert!(
            (found.t_us - expected.t_us).abs() <= within_us,
            "{found:?} {expected:?}"
        );
        let mut same_time = *found;
        same_time.t_us = expected.t_us;
        assert_eq!(same_time, *expected);
    }
}

#[test]
fn asc_of_python_can_holds_the_frames_of_its_candump_log() {
    let log = fixture!("frames.asc");
    assert_eq!(recognise(log), Some(LogForm::Asc(Times::Civil)));
    let (frames, counts) = read(log);
    assert_eq!((counts.malformed, counts.other_events), (0, 1));
    let expected = expected(fixture!("frames.log"), |frame| {
        if frame.kind == FrameKind::Error {
            // The form has neither class nor direction of an error.
            frame.id = 0;
            frame.direction = Direction::Unknown;
        }
    });
    let kinds = |kind| frames.iter().filter(|f| f.kind == kind).count();
    assert_eq!((kinds(FrameKind::Error), kinds(FrameKind::Remote)), (6, 6));
    assert!(frames.iter().any(|f| f.data().len() == 64));
    assert_same(&frames, &with_lengths(&expected, &frames), 1);
}

/// python-can's candump log has no length of a remote frame, and ASC has.
fn with_lengths(expected: &[CanFrame], found: &[CanFrame]) -> Vec<CanFrame> {
    (expected.iter().zip(found))
        .map(|(expected, found)| match expected.kind {
            FrameKind::Remote => expected.into_remote(found.length()),
            _ => *expected,
        })
        .collect()
}

#[test]
fn asc_of_can_utils_holds_the_frames_of_its_candump_log() {
    let (frames, counts) = read(fixture!("plain-canutils.asc"));
    assert_eq!(counts.malformed, 0);
    // The head has whole seconds only, and the log starts 250 ms later.
    let expected = expected(fixture!("plain.log"), |frame| frame.t_us -= 250_000);
    assert_same(&frames, &expected, 1);
}

#[test]
fn console_form_of_can_utils_holds_the_frames_of_its_candump_log() {
    let log = fixture!("frames.console");
    assert_eq!(recognise(log), Some(LogForm::Console(Times::Unix)));
    let (frames, counts) = read(log);
    assert_eq!(counts.malformed, 0);
    let expected = expected(fixture!("frames.log"), |frame| {
        frame.direction = Direction::Unknown;
        frame.fd_flags = frame.fd_flags.map(|_| 0);
    });
    assert_same(&frames, &expected, 0);
}

#[test]
fn trc_of_python_can_holds_the_frames_of_its_candump_log() {
    let (frames, counts) = read(fixture!("plain-2.1.trc"));
    assert_eq!(counts.malformed, 0);
    let expected_21 = expected(fixture!("plain.log"), |_| {});
    assert_same(&frames, &expected_21, 10);
    let (frames, counts) = read(fixture!("plain-1.0.trc"));
    assert_eq!(counts.malformed, 0);
    let expected_10 = expected(fixture!("plain.log"), |frame| {
        frame.direction = Direction::Unknown;
        frame.interface = CanFrame::new(0, false, &[]).expect("fits").interface;
    });
    assert_same(&frames, &expected_10, 501);
}

#[test]
fn each_kind_of_console_time_is_told_and_used() {
    let line = "can0  123   [2]  11 22";
    let of = |stamps: &[&str]| {
        let lines: Vec<String> = (stamps.iter()).map(|s| format!(" {s}  {line}\n")).collect();
        lines.concat().into_bytes()
    };
    for (stamps, times, t_us) in [
        (
            ["(1436509052.249713)", "(1436509053.249713)"],
            Times::Unix,
            [1_436_509_052_249_713, 1_436_509_053_249_713],
        ),
        (
            [
                "(2015-07-10 06:17:32.249713)",
                "(2015-07-10 06:17:33.249713)",
            ],
            Times::Civil,
            [1_436_509_052_249_713, 1_436_509_053_249_713],
        ),
        (
            ["(000.000000)", "(001.500000)"],
            Times::SinceStart,
            [7_000_000, 8_500_000],
        ),
        (
            ["(000.200000)", "(000.100000)"],
            Times::BetweenLines,
            [7_200_000, 7_300_000],
        ),
    ] {
        let log = of(&stamps);
        assert_eq!(recognise(&log), Some(LogForm::Console(times)));
        let start = LogTimes::new(Some(7_000_000), |civil_us, _| civil_us);
        let (frames, _) = read_with(&log, start);
        let found: Vec<i64> = frames.iter().map(|f| f.t_us).collect();
        assert_eq!(found, t_us, "{stamps:?}");
    }
    // Without a start there is no place for the frames, and each says so.
    let (frames, reader) = read_with(&of(&["(000.000000)"]), LogTimes::default());
    assert_eq!(
        (frames.len(), reader.bad_lines()[0].what),
        (0, Malformed::Timestamp)
    );
    let (frames, reader) = read_with(&of(&["", ""]), LogTimes::default());
    assert_eq!((frames.len(), reader.counts().malformed), (0, 2));
}

#[test]
fn console_lines_with_and_without_a_length_and_with_flags() {
    let at = "(1436509052.249713)";
    for (text, id, data, fd) in [
        (
            "can0  123   [3]  11 22 33",
            0x123,
            &[0x11, 0x22, 0x33][..],
            None,
        ),
        ("can0  123  11 22 33", 0x123, &[0x11, 0x22, 0x33], None),
        ("can0  18FE58FE   [0]", 0x18FE_58FE, &[], None),
        (
            "can0  RX - -  123   [2]  11 22   '.\"'",
            0x123,
            &[0x11, 0x22],
            None,
        ),
        (
            "can0  TX B -  123  [02]  11 22",
            0x123,
            &[0x11, 0x22],
            Some(0),
        ),
    ] {
        let log = format!("{at}  {text}\n");
        let (frames, counts) = read(log.as_bytes());
        assert_eq!(counts.malformed, 0, "{text}");
        let frame = frames[0];
        assert_eq!(
            (frame.id, frame.data(), frame.fd_flags),
            (id, data, fd),
            "{text}"
        );
    }
    for bad in [
        "can0  123   [3]  11 22",
        "can0  123   [2]  11 22 33",
        "can0  123   [9]  11 22 33 44 55 66 77 88 99",
        "can0  1234   [1]  11",
        "can0  800   [1]  11",
        "can0  123   [1]  1",
        "can0  123   [1]  11 end",
    ] {
        let log = format!("{at}  can0  123   [0]\n{at}  {bad}\n");
        let (frames, counts) = read(log.as_bytes());
        assert_eq!((frames.len(), counts.malformed), (1, 1), "{bad}");
    }
}

/// Lines of the versions that python-can reads and does not write, from memory.
#[test]
fn every_version_of_trc_has_its_columns() {
    for (version, line) in [
        ("1.1", "     1)       249.7  Rx     0123  3  11 22 33"),
        ("1.2", "     1)       249.7 1  Rx     0123  3  11 22 33"),
        ("1.3", "     1)       249.7 1  Rx     0123 -  3  11 22 33"),
    ] {
        let log = format!(
            ";$FILEVERSION={version}\r\n;$STARTTIME=45879.4166666667\r\n{line}\r\n\
                           ;\r\n     2)       300.0  Error\r\n"
        );
        let (frames, counts) = read(log.as_bytes());
        assert_eq!(
            (frames.len(), counts.malformed, counts.other_events),
            (1, 0, 1),
            "{version}"
        );
        assert_eq!(
            (frames[0].id, frames[0].data()),
            (0x123, &[0x11, 0x22, 0x33][..])
        );
        assert!(
            (frames[0].t_us - 1_754_820_000_249_700).abs() < 10,
            "{version}"
        );
    }
    let fd = b";$FILEVERSION=2.0\n;$STARTTIME=45879.5\n;$COLUMNS=N,O,T,I,d,l,D\n\
        1 0.5 FB 18FE58FE Rx 12 00 01 02 03 04 05 06 07 08 09 0A 0B\n2 0.7 ST - Rx 4 00 00 00 08\n3 0.8 RR 0123 Tx 4\n";
    let (frames, counts) = read(fd);
    assert_eq!(
        (frames.len(), counts.other_events, counts.malformed),
        (2, 1, 0)
    );
    assert_eq!(
        (
            frames[0].fd_flags,
            frames[0].data().len(),
            frames[0].extended
        ),
        (Some(1), 12, true)
    );
    assert_eq!((frames[1].kind, frames[1].length()), (FrameKind::Remote, 4));
}

#[test]
fn asc_with_relative_times_decimal_base_and_a_half_day_clock() {
    let log = b"date Fri Jul 10 06:17:32.250 pm 2015\nbase dec  timestamps relative\n\
        internal events logged\n// version 7.0.0\n\
        0.000000 Start of measurement\n0.500000 1  291             Rx   d 2 17 255  Length = 1 BitCount = 2\n\
        0.250000 1  Statistic: D 1 R 0\n0.250000 2  291             TxRq d 0\n";
    let (frames, counts) = read(log);
    assert_eq!((counts.malformed, counts.other_events), (0, 2));
    assert_eq!((frames[0].id, frames[0].data()), (0x123, &[17, 255][..]));
    // 18:17:32.250 UTC and half a second, then half a second later.
    assert_eq!(frames[0].t_us, 1_436_552_252_750_000);
    assert_eq!(frames[1].t_us - frames[0].t_us, 500_000);
    assert_eq!(
        (frames[1].interface.as_str(), frames[1].direction),
        ("can1", Direction::Sent)
    );
}

#[test]
fn a_second_trigger_block_starts_over_only_when_its_times_do() {
    let block = |date: &str, t: &str| {
        format!("Begin Triggerblock {date}\n {t} 1  123             Rx   d 0\nEnd TriggerBlock\n")
    };
    let head = "date Sun Aug 10 10:00:00 2025\nbase hex  timestamps absolute\n";
    let times = |second: &str| {
        let log = [
            head,
            &block("Sun Aug 10 10:00:00 2025", "5.000000"),
            &block("Sun Aug 10 11:00:00 2025", second),
        ]
        .concat();
        let (frames, _) = read(log.as_bytes());
        (frames[1].t_us - frames[0].t_us) / 1_000_000
    };
    assert_eq!(times("3600.000000"), 3595);
    assert_eq!(times("1.000000"), 3596);
}

#[test]
fn broken_lines_are_bad_and_not_other_events() {
    let asc = b"base hex  timestamps absolute\n0.1 1  123             Rx   d 3 11 22\n\
        0.2 1  1FFFFFFFFx       Rx   d 0\n0.3 1  123             Rx   q 0\n0.4 0  123             Rx   d 0\nfoo bar\n";
    let start = LogTimes::new(Some(0), |civil_us, _| civil_us);
    let (frames, reader) = read_with(asc, start.clone());
    let what: Vec<Malformed> = reader.bad_lines().iter().map(|b| b.what).collect();
    assert_eq!(frames.len(), 0);
    assert_eq!(
        what,
        [
            Malformed::Data,
            Malformed::Identifier,
            Malformed::Data,
            Malformed::Interface,
            Malformed::Timestamp
        ]
    );
    let trc =
        b";$FILEVERSION=1.1\n 1) 1.0 Rx 0123 3 11 22\n x) 1.0 Rx 0123 0\n 3) 1.0 Rx FFFFFFFFF 0\n";
    let (frames, reader) = read_with(trc, start);
    assert_eq!((frames.len(), reader.counts().malformed), (0, 3));
}
