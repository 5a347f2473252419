use super::{channel, rig};
use crate::codec::decode::{ModbusDecoder, Outcomes, RegisterBlock, register_number};
use crate::rig::{RegisterNumber, RegisterTable, WordOrder};
use crate::time::BootMs;

const STATION: &str = "kind = \"modbus\"";

#[test]
fn adjacent_registers_are_asked_for_together_and_gaps_are_not_touched() {
    let rig = rig(
        STATION,
        &[
            channel("front_right_kpa_gauge", "register = 11\nnumber = \"u16\""),
            channel("front_left_kpa_gauge", "register = 10\nnumber = \"u16\""),
            channel(
                "rear_left_kpa_gauge",
                "register = 12\nnumber = \"f32\"\nunit = \"bar\"",
            ),
            channel("tank_kpa_gauge", "register = 20\nnumber = \"u16\""),
            channel(
                "rear_right_kpa_gauge",
                "register = 13\ntable = \"holding\"\nnumber = \"u16\"",
            ),
        ]
        .concat(),
    );
    let mut decoder = ModbusDecoder::new(&rig, 0).expect("all have registers");
    let block = |table, first, count| RegisterBlock {
        table,
        first,
        count,
    };
    assert_eq!(
        decoder.blocks(),
        [
            block(RegisterTable::Input, 10, 4),
            block(RegisterTable::Input, 20, 1),
            block(RegisterTable::Holding, 13, 1),
        ]
    );
    let mut found = Vec::new();
    let mut sink = |sample: crate::sample::Sample| {
        found.push((
            rig.channels[usize::from(sample.channel.0)].name.as_str(),
            sample.value,
        ));
    };
    decoder.decode(0, &[512, 498, 0x40C0, 0x0000], BootMs(0), &mut sink);
    decoder.decode(0, &[512], BootMs(0), &mut sink);
    decoder.decode(2, &[634], BootMs(0), &mut sink);
    decoder.decode(9, &[1, 2, 3], BootMs(0), &mut sink);
    assert_eq!(
        found,
        [
            ("front_left_kpa_gauge", 512.0),
            ("front_right_kpa_gauge", 498.0),
            ("rear_left_kpa_gauge", 600.0),
            ("front_left_kpa_gauge", 512.0),
            ("rear_right_kpa_gauge", 634.0),
        ]
    );
    let total: Outcomes = decoder.outcomes().map(|(_, outcomes)| outcomes).sum();
    assert_eq!((total.passed, total.too_short), (5, 2));
}

#[test]
fn a_request_never_asks_for_more_than_the_protocol_allows() {
    let channels: String = (0..130)
        .map(|n| {
            channel(
                &format!("other_{}_v", letters(n)),
                &format!("register = {n}\nnumber = \"u16\""),
            )
        })
        .collect();
    let decoder = ModbusDecoder::new(&rig(STATION, &channels), 0).expect("all fit");
    let counts: Vec<u16> = decoder.blocks().iter().map(|block| block.count).collect();
    assert_eq!(counts, [125, 5]);
}

/// A name of letters for a number.
fn letters(n: usize) -> String {
    let digit = |n: usize| char::from(b'a' + (n % 26) as u8);
    [digit(n / 26), digit(n)].iter().collect()
}

#[test]
fn a_long_number_does_not_fit_the_last_register() {
    let rig = rig(
        STATION,
        &channel("tank_kpa_gauge", "register = 65535\nnumber = \"u32\""),
    );
    let error = ModbusDecoder::new(&rig, 0).expect_err("one word left");
    assert!(error.to_string().contains("last register"), "{error}");
}

/// IEEE 754 single of 123456.0 is 0x47F12000 (computed with `struct.pack` of Python
/// 3.11); the integers by hand.
#[test]
fn numbers_of_both_word_orders() {
    use RegisterNumber::{F32, I16, I32, U16, U32};
    use WordOrder::{HighFirst, LowFirst};
    for (words, number, order, value) in [
        (&[0x47F1, 0x2000][..], F32, HighFirst, Some(123_456.0)),
        (&[0x2000, 0x47F1], F32, LowFirst, Some(123_456.0)),
        (&[0x0001, 0xE240], U32, HighFirst, Some(123_456.0)),
        (&[0xE240, 0x0001], U32, LowFirst, Some(123_456.0)),
        (&[0xFFFE, 0x1DC0], I32, HighFirst, Some(-123_456.0)),
        (&[0x8000], I16, HighFirst, Some(-32_768.0)),
        (&[0x8000], U16, LowFirst, Some(32_768.0)),
        (&[0x8000], U32, LowFirst, None),
        (&[], U16, HighFirst, None),
    ] {
        assert_eq!(register_number(words, number, order), value, "{words:X?}");
    }
}
