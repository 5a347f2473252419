use super::{channel, rig};
use crate::codec::decode::{NmeaDecoder, Outcomes};
use crate::codec::nmea::{Item, Lexer, append_sentence};
use crate::rig::Rig;
use crate::time::BootMs;

const LINE: &str = "kind = \"nmea\"";

fn decode(rig: &Rig, bodies: &[&str]) -> (Vec<(String, f64)>, NmeaDecoder) {
    let mut wire = Vec::new();
    for body in bodies {
        append_sentence(&mut wire, None, body).expect("short and plain");
    }
    let mut decoder = NmeaDecoder::new(rig, 0).unwrap_or_else(|error| panic!("{error}"));
    let mut found = Vec::new();
    Lexer::new().push(&wire, &mut |item| {
        if let Item::Sentence(sentence) = item {
            decoder.decode(&sentence, BootMs(5), &mut |sample| {
                let name = rig.channels[usize::from(sample.channel.0)].name.clone();
                found.push((name, (sample.value * 1e6).round() / 1e6));
            });
        }
    });
    (found, decoder)
}

#[test]
fn every_kind_of_transducer_reaches_its_channel_in_our_unit() {
    let volts = "transducer = \"VFL\"\n[channel.calibrate.ratiometric]\nsupply_v = 5.0\n\
                 low_fraction = 0.1\nlow = 0.0\nhigh_fraction = 0.9\nhigh = 1200.0";
    let rig = rig(
        LINE,
        &[
            channel("tank_kpa_gauge", "transducer = \"TANK\""),
            channel("ambient_kpa_abs", "transducer = \"BARO\""),
            channel("ambient_c", "transducer = \"AMB\""),
            channel("front_left_mm", "transducer = \"HFL\""),
            channel("front_left_kpa_gauge", volts),
            channel("compressor_1_a", "transducer = \"AMPS\""),
            channel(
                "compressor_1_on",
                "transducer = \"AMPS\"\n[channel.on_when]\nabove = 3.0",
            ),
            channel("front_left_fill", "transducer = \"FILL1\""),
            channel(
                "front_right_kpa_gauge",
                "transducer = \"RAW\"\nunit = \"psi\"",
            ),
        ]
        .concat(),
    );
    let (found, decoder) = decode(
        &rig,
        &[
            "YXXDR,P,8.01325,B,TANK,P,101325,P,BARO,C,293.15,K,AMB",
            "YXXDR,D,-0.0125,M,HFL,U,2.5,V,VFL,I,6.5,A,AMPS",
            "YXXDR,S,1,,FILL1,G,100,,RAW,C,68,F,AMB",
        ],
    );
    let expected = [
        ("tank_kpa_gauge", 801.325),
        ("ambient_kpa_abs", 101.325),
        ("ambient_c", 20.0),
        ("front_left_mm", -12.5),
        ("front_left_kpa_gauge", 600.0),
        ("compressor_1_a", 6.5),
        ("compressor_1_on", 1.0),
        ("front_left_fill", 1.0),
        ("front_right_kpa_gauge", 689.475_729),
        ("ambient_c", 20.0),
    ];
    assert_eq!(
        found,
        expected.map(|(name, value)| (name.to_string(), value))
    );
    assert_eq!(decoder.counts().xdr, 3);
}

#[test]
fn what_is_no_reading_is_counted_by_reason() {
    let rig = rig(
        LINE,
        &channel(
            "tank_kpa_gauge",
            "transducer = \"TANK\"\nrange = [0.0, 1200.0]",
        ),
    );
    let (found, decoder) = decode(
        &rig,
        &[
            "YXXDR,P,,B,TANK",
            "YXXDR,P,8..1,B,TANK",
            "YXXDR,C,20,C,TANK",
            "YXXDR,G,20,,TANK",
            "YXXDR,P,99,B,TANK",
            "YXXDR,P,1,B,PRESS,P,1,B,PRESS,P,1,B",
            "GPGLL,5300.97914,N,00259.98174,E,125926,A",
        ],
    );
    assert!(found.is_empty());
    let total: Outcomes = decoder.outcomes().map(|(_, outcomes)| outcomes).sum();
    let expected = Outcomes {
        no_reading: 1,
        not_a_number: 1,
        wrong_unit: 2,
        out_of_range: 1,
        ..Outcomes::default()
    };
    assert_eq!(total, expected);
    let counts = decoder.counts();
    assert_eq!((counts.sentences, counts.xdr), (7, 6));
    assert_eq!(
        (counts.unknown_transducers, counts.incomplete_groups),
        (2, 1)
    );
    assert_eq!(decoder.unknown_names(), ["PRESS"]);
}

#[test]
fn an_endless_variety_of_names_is_not_kept() {
    let rig = rig(LINE, &channel("tank_kpa_gauge", "transducer = \"TANK\""));
    let bodies: Vec<String> = (0..100).map(|n| format!("YXXDR,P,1,B,X{n}")).collect();
    let bodies: Vec<&str> = bodies.iter().map(String::as_str).collect();
    let (_, decoder) = decode(&rig, &bodies);
    assert_eq!(decoder.unknown_names().len(), 16);
    assert_eq!(decoder.counts().unknown_transducers, 100);
}
