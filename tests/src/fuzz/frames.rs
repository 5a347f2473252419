//! candump logs: any bytes in the file.

use super::{Target, air, portions, rig};
use seep_common::codec::can::CanFrame;
use seep_common::codec::candump::{LineCounts, LineReader, append_line, parse_line};
use seep_common::codec::decode::CanDecoder;

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
    ],
    rounds: 2_000,
};

fn run(data: &[u8]) {
    let mut decoder = CanDecoder::new(rig(), 0, air()).expect("the bus of the rig");
    let (frames, counts) = read(std::iter::once(data));
    assert_eq!((frames.clone(), counts), read(portions(data)));
    assert_eq!(counts.frames, frames.len() as u64);
    for frame in &frames {
        decoder.decode(frame, frame.t_us.div_euclid(1000), &mut |sample| {
            assert!(!sample.value.is_nan());
        });
        let mut line = Vec::new();
        append_line(frame, &mut line);
        assert_eq!(parse_line(line.trim_ascii_end()).as_ref(), Ok(frame));
    }
}

fn read<'a>(parts: impl Iterator<Item = &'a [u8]>) -> (Vec<CanFrame>, LineCounts) {
    let (mut reader, mut frames) = (LineReader::new(), Vec::new());
    for part in parts {
        reader.push(part, &mut |frame| frames.push(*frame));
    }
    reader.finish();
    assert!(reader.bad_lines().len() <= 8);
    (frames, reader.counts())
}
