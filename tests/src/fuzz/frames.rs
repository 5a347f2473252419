//! Logs of CAN frames in every form: any bytes in the file.

use super::{Target, air, portions, rig};
use seep_common::codec::can::CanFrame;
use seep_common::codec::candump::{LineCounts, LineReader, append_line, parse_line};
use seep_common::codec::canlog::{LogForm, LogTimes, Times, recognise};
use seep_common::codec::decode::CanDecoder;
use seep_common::time::BootMs;

pub(super) const TARGET: Target = Target {
    name: "candump",
    run,
    words: &[
        "(",
        ")",
        ".",
        "#",
        "##1",
        "#R",
        "#R8",
        "_9",
        "\n",
        " can0 ",
        "18FEF521",
        "20000040",
        "123",
        " R",
        " T",
        "FFFFFFFFFFFFFFFF",
        "(9223372036854775807.999999)",
        "(-1.5)",
        "DROPCOUNT: dropped 3 ",
        "  can0  123   [2]  11 22\n",
        "(000.100000)",
        "remote request",
        "base hex  timestamps relative\n",
        "date Sun Aug 10 10:00:00.250 2025\n",
        "Begin Triggerblock Sun Aug 10 10:00:00 pm 2025\n",
        " 0.5 1  18FE58FEx       Rx   d 2 11 22\n",
        " 0.5 CANFD   1 Rx   123  1 0 f 64 ",
        ";$FILEVERSION=2.1\n",
        ";$STARTTIME=45879.4\n",
        ";$COLUMNS=N,O,T,B,I,d,R,L,D\n",
        " 1 249.7 DT 1 0123 Rx - 2 11 22\n",
        " 1) 249.7 Rx 0123 2 11 22\n",
    ],
    rounds: 2_000,
};

fn run(data: &[u8]) {
    let mut decoder = CanDecoder::new(rig(), 0, air()).expect("the bus of the rig");
    // Whatever it is taken for, and always also candump's own form.
    let told = recognise(data).unwrap_or(LogForm::Console(Times::SinceStart));
    let (other, counts) = read(told, std::iter::once(data));
    assert_eq!((other.clone(), counts), read(told, portions(data)));
    assert_eq!(counts.frames, other.len() as u64);
    let (frames, counts) = read(LogForm::Candump, std::iter::once(data));
    assert_eq!(
        (frames.clone(), counts),
        read(LogForm::Candump, portions(data))
    );
    assert_eq!(counts.frames, frames.len() as u64);
    for frame in frames.iter().chain(&other) {
        decoder.decode(frame, BootMs(frame.t_us.div_euclid(1000)), &mut |sample| {
            assert!(!sample.value.is_nan());
        });
        let mut line = Vec::new();
        append_line(frame, &mut line);
        assert_eq!(parse_line(line.trim_ascii_end()).as_ref(), Ok(frame));
    }
}

fn read<'a>(form: LogForm, parts: impl Iterator<Item = &'a [u8]>) -> (Vec<CanFrame>, LineCounts) {
    let times = LogTimes::new(Some(1_754_820_000_000_000), |civil_us, _| civil_us);
    let (mut reader, mut frames) = (LineReader::of(form, times), Vec::new());
    for part in parts {
        reader.push(part, &mut |frame| frames.push(*frame));
    }
    reader.finish();
    assert!(reader.bad_lines().len() <= 8);
    (frames, reader.counts())
}
