use super::*;
use crate::time::WallMs;
use proptest::prelude::*;

/// Items with owned contents, so that they can be compared after the lexer went on.
fn lex(portions: &[&[u8]]) -> (Vec<String>, LexerCounts) {
    let mut lexer = Lexer::new();
    let mut items = Vec::new();
    for portion in portions {
        lexer.push(portion, &mut |item| items.push(describe(item)));
    }
    lexer.finish(&mut |item| items.push(describe(item)));
    (items, lexer.counts())
}

fn describe(item: Item<'_>) -> String {
    match item {
        Item::Sentence(s) => match s.tag_ms {
            Some(t) => format!("{t} {}", s.body),
            None => s.body.to_string(),
        },
        Item::Discarded { bytes } => format!("-{bytes}"),
        other => format!("{other:?}"),
    }
}

/// Published example sentences; their checksums were confirmed with the reference
/// library pynmea2 1.19.0. The two XDR sentences are invented, their checksums
/// come from the same library.
const REFERENCE: [&str; 5] = [
    "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
    "GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
    "GPGLL,5300.97914,N,00259.98174,E,125926,A*28",
    "YXXDR,C,22.0,C,TEMP,P,1.01325,B,BARO*7B",
    "YXXDR,P,8.013250,B,TANK,C,20.0,C,AMB*0C",
];

#[test]
fn reference_sentences_pass_and_are_written_the_same() {
    for text in REFERENCE {
        let wire = format!("${text}\r\n");
        let (body, _) = text.split_once('*').expect("has a checksum");
        assert_eq!(lex(&[wire.as_bytes()]).0, [body]);
        let mut written = Vec::new();
        append_sentence(&mut written, None, body).expect("short and plain");
        assert_eq!(written, wire.as_bytes());
    }
}

/// **Source**: E. S. Raymond, "AIVDM/AIVDO protocol decoding" (gpsd
/// documentation), section on NMEA TAG blocks.
#[test]
fn a_published_sentence_with_tag_block_passes() {
    let wire = b"\\g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A\\\
                 !AIVDM,1,1,,B,15N4cJ`005Jrek0H@9n`DW5608EP,0*13\r\n";
    let (items, counts) = lex(&[wire]);
    let body = "AIVDM,1,1,,B,15N4cJ`005Jrek0H@9n`DW5608EP,0";
    assert_eq!(items, [format!("1241544035000 {body}")]);
    assert_eq!(counts.discarded_bytes, 0);
}

#[test]
fn every_single_bit_error_in_a_sentence_is_caught() {
    let good = b"$YXXDR,P,8.013250,B,TANK,C,20.0,C,AMB*0C\r\n";
    for byte in 1..good.len() - 2 {
        for bit in 0..8 {
            let mut bad = *good;
            bad[byte] ^= 1 << bit;
            let (items, counts) = lex(&[&bad]);
            // The case of a checksum digit is all that one bit may change.
            if bad.eq_ignore_ascii_case(good) && byte > 37 {
                continue;
            }
            assert_eq!(counts.sentences, 0, "byte {byte} bit {bit}: {items:?}");
        }
    }
}

#[test]
fn tag_block_times_reach_their_sentence_and_no_other() {
    let mut wire = Vec::new();
    append_sentence(
        &mut wire,
        Some(WallMs(1_754_820_000_123)),
        "YXXDR,S,1,,FILL",
    )
    .expect("plain");
    append_sentence(&mut wire, None, "YXXDR,S,0,,FILL").expect("plain");
    let (items, counts) = lex(&[&wire]);
    assert_eq!(items, ["1754820000123 YXXDR,S,1,,FILL", "YXXDR,S,0,,FILL"]);
    assert_eq!(counts.discarded_bytes, 0);
}

/// Each damage, what is found, and how many bytes belong to nothing.
#[test]
fn damage_is_named_counted_and_left_behind() {
    let ok = "$YXXDR,S,1,,A*6C";
    for (wire, items, discarded) in [
        ("$YXXDR,S,1,,A*6C\r\n", vec!["OK"], 0),
        ("\r\n\r\n$YXXDR,S,1,,A*6C\n", vec!["OK"], 0),
        ("\0\u{1}$YXXDR,S,1,,A*6C\n", vec!["-2", "OK"], 2),
        ("XDR,S,1,,A*6C\r\n$YXXDR,S,1,,A*6C\n", vec!["-13", "OK"], 13),
        ("$YXXD$YXXDR,S,1,,A*6C\n", vec!["-5", "OK"], 5),
        ("$YX\0DR$YXXDR,S,1,,A*6C\n", vec!["-6", "OK"], 6),
        ("$YXXDR,S,1,,A*6CB\n", vec!["OK", "-1"], 1),
        ("$YXXDR,S,1,,A*6c\n", vec!["OK"], 0),
        (
            "$YXXDR,S,1,,A*6D\n",
            vec!["BadChecksum { computed: 108 }"],
            0,
        ),
        (
            "$YXXDR,S,1,,A*6\n",
            vec!["BadChecksum { computed: 108 }"],
            0,
        ),
        (
            "$YXXDR,S,1,,A*GG\n",
            vec!["BadChecksum { computed: 108 }"],
            0,
        ),
        ("$YXXDR,S,1,,A\r\n", vec!["MissingChecksum"], 0),
        ("$YXXDR,S,1,,A", vec!["-13"], 13),
        ("$,S*7F\r\n$YXXDR,S,1,,A*6C\n", vec!["-6", "OK"], 6),
        ("\\c:1*68\\\r\n$YXXDR,S,1,,A*6C\n", vec!["-8", "OK"], 8),
        ("\\c:1*68\\$YXXDR,S,1,,A*6C\n", vec!["1000 OK"], 0),
        ("\\s:a*28\\\\c:1*68\\$YXXDR,S,1,,A*6C\n", vec!["1000 OK"], 0),
        ("\\c:1*68\\\\s:a*28\\$YXXDR,S,1,,A*6C\n", vec!["1000 OK"], 0),
        ("\\c:1*68\\x$YXXDR,S,1,,A*6C\n", vec!["-9", "OK"], 9),
        ("\\c:1*67\\$YXXDR,S,1,,A*6C\n", vec!["BadTagBlock", "OK"], 0),
        (
            "\\c:17\\c:1*68\\$YXXDR,S,1,,A*6C\n",
            vec!["BadTagBlock", "1000 OK"],
            0,
        ),
        ("\\\\\\c:1*68\\$YXXDR,S,1,,A*6C\n", vec!["-2", "1000 OK"], 2),
        ("\\c:1$YXXDR,S,1,,A*6C\n", vec!["-4", "OK"], 4),
    ] {
        let (found, counts) = lex(&[wire.as_bytes()]);
        let expected: Vec<String> = items
            .iter()
            .map(|item| item.replace("OK", &ok[1..13]))
            .collect();
        assert_eq!(found, expected, "{wire:?}");
        assert_eq!(counts.discarded_bytes, discarded, "{wire:?}");
    }
}

#[test]
fn overlong_lines_are_cut_off_and_noise_is_reported_in_portions() {
    let mut wire = b"$YXXDR,".to_vec();
    wire.extend_from_slice(&[b'1'; 1000]);
    wire.extend_from_slice(b"\r\n$YXXDR,S,1,,A*6C\r\n");
    let (items, counts) = lex(&[&wire]);
    assert_eq!(items, ["Overlong", "-750", "YXXDR,S,1,,A"]);
    assert_eq!(counts.overlong, 1);
    let (items, counts) = lex(&[&[0xFF; 10_000]]);
    assert_eq!(items, ["-4096", "-4096", "-1808"]);
    assert_eq!((counts.bytes, counts.discarded_bytes), (10_000, 10_000));
}

#[test]
fn transducers_are_read_in_groups_of_four() {
    let of = |body| {
        let sentence = Sentence::new(body, None).expect("an address");
        let mut all = transducers(&sentence);
        let found: Vec<_> = all.by_ref().collect();
        (found, all.leftover())
    };
    let (found, leftover) = of("YXXDR,P,8.013250,B,TANK,S,1,,PUMP,G,,,SPARE,D,1e3,M,H1");
    assert_eq!(leftover, 0);
    assert_eq!(found[0].value, Some(8.01325));
    assert_eq!(
        unit_label(found[0].kind.expect("a type"), found[0].unit),
        Some("bar")
    );
    assert_eq!((found[1].unit, found[1].value), (None, Some(1.0)));
    assert_eq!((found[2].value, found[2].text), (None, ""));
    assert_eq!((found[3].value, found[3].text), (None, "1e3"));
    assert_eq!(of("YXXDR,P,1,B,T,C,2").1, 2);
    assert_eq!(of("YXXDR").1, 0);
    assert!(of("GPGLL,5300.97914,N,00259.98174,E").0.is_empty());
}

#[test]
fn many_readings_are_spread_over_sentences_of_82_characters() {
    let names = [
        "FL", "FR", "RL", "RR", "TANK", "H_FL", "H_FR", "H_RL", "H_RR",
    ];
    let readings: Vec<XdrReading<'_>> = names
        .iter()
        .map(|name| XdrReading {
            kind: 'P',
            value: Some(4.987_65),
            decimals: 4,
            unit: Some('B'),
            name,
        })
        .collect();
    let mut wire = Vec::new();
    let sentences = append_xdr(&mut wire, "YX", None, &readings).expect("all fit");
    assert_eq!(sentences, 3);
    assert!(
        wire.split_inclusive(|&b| b == b'\n')
            .all(|line| line.len() <= 82)
    );
    let mut lexer = Lexer::new();
    let mut read = Vec::new();
    lexer.push(&wire, &mut |item| {
        if let Item::Sentence(sentence) = item {
            read.extend(transducers(&sentence).map(|t| t.name.to_string()));
        }
    });
    assert_eq!(read, names);
}

#[test]
fn what_cannot_be_written_is_refused_and_leaves_nothing_behind() {
    let reading = XdrReading {
        kind: 'P',
        value: Some(1.0),
        decimals: 2,
        unit: Some('B'),
        name: "A",
    };
    let mut wire = Vec::new();
    let long = "X".repeat(80);
    for (bad, word) in [
        (
            XdrReading {
                name: "A*B",
                ..reading
            },
            "A*B",
        ),
        (
            XdrReading {
                name: "A,B",
                ..reading
            },
            "A,B",
        ),
        (
            XdrReading {
                value: Some(f64::NAN),
                ..reading
            },
            "finite",
        ),
        (
            XdrReading {
                name: &long,
                ..reading
            },
            "longer",
        ),
    ] {
        let error = append_xdr(&mut wire, "YX", None, &[reading, bad]).expect_err("bad");
        assert!(error.to_string().contains(word), "{error}");
        assert!(wire.is_empty(), "{error}");
    }
    let error = append_xdr(&mut wire, "YX", Some(WallMs(5)), &[reading]).expect_err("early");
    assert_eq!(error, EncodeError::TooEarly { unix_ms: WallMs(5) });
}

fn any_wire() -> impl Strategy<Value = Vec<u8>> {
    let piece = prop_oneof![
        3 => (1.0e11f64..4.0e12, -5.0f64..900.0).prop_map(|(t, value)| {
            let mut wire = Vec::new();
            let reading = XdrReading { kind: 'P', value: Some(value), decimals: 3, unit: Some('B'), name: "TANK" };
            append_xdr(&mut wire, "YX", Some(WallMs(t as i64)), &[reading]).expect("short");
            wire
        }),
        1 => proptest::collection::vec(any::<u8>(), 0..30),
        1 => "[$!\\\\*,A-Z0-9a-f\r\n]{0,40}".prop_map(String::into_bytes),
        1 => (0usize..400).prop_map(|n| { let mut w = b"$AAXDR".to_vec(); w.extend(vec![b'x'; n]); w }),
    ];
    proptest::collection::vec(piece, 0..8).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn where_the_bytes_are_split_does_not_matter(
        wire in any_wire(),
        cuts in proptest::collection::vec(any::<prop::sample::Index>(), 0..6),
    ) {
        let mut cuts: Vec<usize> = cuts.iter().map(|cut| cut.index(wire.len() + 1)).collect();
        cuts.sort_unstable();
        cuts.push(wire.len());
        let mut from = 0;
        let mut portions = Vec::new();
        for cut in cuts {
            portions.push(&wire[from..cut]);
            from = cut;
        }
        prop_assert_eq!(lex(&[&wire]), lex(&portions));
    }

    #[test]
    fn any_bytes_are_survived_and_a_good_sentence_after_them_is_found(
        noise in proptest::collection::vec(any::<u8>(), 0..800),
    ) {
        let mut wire = noise;
        wire.extend_from_slice(b"\r\n$YXXDR,S,1,,A*6C\r\n");
        let (items, counts) = lex(&[&wire]);
        prop_assert_eq!(items.last().map(String::as_str), Some("YXXDR,S,1,,A"));
        prop_assert!(counts.discarded_bytes <= counts.bytes);
    }

    #[test]
    fn values_survive_the_wire(value in -1000.0f64..1000.0, t_ms in 100_000_000_000i64..4_000_000_000_000) {
        let mut wire = Vec::new();
        let reading = XdrReading { kind: 'D', value: Some(value), decimals: 6, unit: Some('M'), name: "H1" };
        append_xdr(&mut wire, "YX", Some(WallMs(t_ms)), &[reading]).expect("short");
        let mut read = None;
        Lexer::new().push(&wire, &mut |item| if let Item::Sentence(s) = item {
            read = transducers(&s).next().map(|t| (s.tag_ms, t.value));
        });
        let (tag, back) = read.expect("one sentence");
        prop_assert_eq!(tag, Some(WallMs(t_ms)));
        prop_assert!((back.expect("a value") - value).abs() <= 5e-7);
    }
}
