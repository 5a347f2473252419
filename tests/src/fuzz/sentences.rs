//! NMEA 0183: any bytes on the wire.

use super::{Target, portions, rig};
use seep_common::codec::decode::NmeaDecoder;
use seep_common::codec::nmea::{Item, Lexer, LexerCounts, transducers, unix_ms};
use seep_common::time::BootMs;

pub(super) const TARGET: Target = Target {
    name: "nmea",
    run,
    words: &[
        "$",
        "!",
        "*",
        "\\",
        "\r\n",
        ",",
        "c:",
        "XDR",
        "ZDA",
        "$YXXDR,P,",
        "B,TKP",
        "*00",
        "S,1,,",
        "-",
        "99999999999999999999",
        "1e308",
        "\\c:0*53\\",
        "g:1-2-3",
    ],
    rounds: 2_000,
};

fn run(data: &[u8]) {
    let mut decoder = NmeaDecoder::new(rig(), 1).expect("the box of the rig");
    let (whole, counts) = lexed(std::iter::once(data), &mut decoder);
    let mut again = decoder.clone();
    let (split, split_counts) = lexed(portions(data), &mut again);
    assert_eq!((whole, counts), (split, split_counts));
    assert_eq!(counts.bytes, data.len() as u64);
    assert!(counts.discarded_bytes <= counts.bytes);
    assert!(decoder.counts().sentences == counts.sentences);
    assert!(decoder.unknown_names().len() <= 16);
}

fn lexed<'a>(
    parts: impl Iterator<Item = &'a [u8]>,
    decoder: &mut NmeaDecoder,
) -> (Vec<String>, LexerCounts) {
    let (mut lexer, mut items) = (Lexer::new(), Vec::new());
    let mut sink = |item: Item<'_>| {
        if let Item::Sentence(sentence) = item {
            let time = unix_ms(&sentence);
            let measured = transducers(&sentence).count();
            let t_ms = BootMs(sentence.tag_ms.map_or(0, |t| t.0));
            decoder.decode(&sentence, t_ms, &mut |sample| {
                assert!(sample.value.is_finite());
            });
            items.push(format!("{sentence:?} {time:?} {measured}"));
        } else {
            items.push(format!("{item:?}"));
        }
    };
    for part in parts {
        lexer.push(part, &mut sink);
    }
    lexer.finish(&mut sink);
    (items, lexer.counts())
}
