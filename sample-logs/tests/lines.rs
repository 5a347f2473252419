//! The logs through the codecs the recorder uses: every byte is understood.

mod support;

use seep_common::codec::candump::parse_line;
use seep_common::codec::j1939::pgn_of;
use seep_common::codec::nmea::{Item, Lexer, transducers};
use seep_common::rig::{Decode, Rig};
use std::collections::{BTreeMap, BTreeSet};
use support::{each_builtin, readings};

#[test]
fn every_byte_of_the_serial_line_is_a_good_sentence() {
    each_builtin(|scenario, logs| {
        let mut lexer = Lexer::new();
        let (mut last_ms, mut sentences) = (0, 0_u64);
        lexer.push(&logs.nmea, &mut |item| match item {
            Item::Sentence(sentence) => {
                let t_ms = sentence.tag_ms.expect("every sentence carries its time").0;
                assert!(t_ms >= last_ms, "{}: {t_ms} after {last_ms}", scenario.name);
                last_ms = t_ms;
                sentences += 1;
                let mut all = transducers(&sentence);
                assert!(all.all(|t| t.value.is_some() || t.text.is_empty()));
                assert_eq!(all.leftover(), 0);
            }
            other => panic!("{}: {other:?}", scenario.name),
        });
        lexer.finish(&mut |item| panic!("{}: {item:?} at the end", scenario.name));
        let counts = lexer.counts();
        assert_eq!(counts.sentences, sentences);
        assert_eq!(counts.discarded_bytes + counts.bad_checksums, 0);
        assert!(sentences > 5_000);
    });
}

#[test]
fn every_line_of_the_bus_is_a_frame_while_the_ignition_is_on() {
    each_builtin(|scenario, logs| {
        let text = std::str::from_utf8(&logs.candump).expect("text");
        let mut frames: BTreeMap<u32, usize> = BTreeMap::new();
        let mut last_us = 0;
        for line in text.lines().filter(|line| !line.starts_with('#')) {
            let frame = parse_line(line.as_bytes()).expect(line);
            assert!(frame.t_us > last_us, "{line}");
            last_us = frame.t_us;
            let on = |d: &[i64; 2]| (d[0] * 1000..=d[1] * 1000 + 1000).contains(&frame.t_us);
            assert!(
                logs.truth.drives.iter().any(on),
                "{}: {line}",
                scenario.name
            );
            *frames.entry(pgn_of(frame.id)).or_default() += 1;
        }
        assert!(frames[&65_265] > 1_500, "{}: {frames:?}", scenario.name);
        assert!(frames[&65_269] > 1_500, "{}: {frames:?}", scenario.name);
    });
}

#[test]
fn the_rig_names_every_transducer_and_none_that_is_silent() {
    each_builtin(|scenario, logs| {
        let rig = Rig::parse(&logs.rig_toml).expect(&scenario.name);
        assert!(rig.vehicle.contains("(invented)"));
        let of_rig: BTreeSet<String> = rig
            .channels
            .iter()
            .filter_map(|c| match &c.decode {
                Decode::Transducer { name } => Some(name.clone()),
                _ => None,
            })
            .collect();
        let sent: BTreeSet<String> = readings(&logs.nmea).into_iter().map(|r| r.name).collect();
        assert_eq!(of_rig, sent, "{}", scenario.name);
        assert_eq!(rig.channels.iter().filter(|c| c.place == "tank").count(), 2);
    });
}

#[test]
fn the_rig_is_a_slightly_wrong_description_of_the_true_springs() {
    each_builtin(|scenario, logs| {
        let rig = Rig::parse(&logs.rig_toml).expect(&scenario.name);
        for circuit in &rig.circuits {
            let truth = &logs.truth.parameters.circuits[&circuit.name];
            for [mm, true_l] in &truth.volume_at_height {
                let stated_l = circuit.volume.volume_l(*mm).expect("a volume");
                let off = stated_l / true_l - 1.0;
                if scenario.watch.heights {
                    assert!(off.abs() < 0.08, "{} {mm}: {off}", circuit.name);
                }
            }
        }
        let tank_l = rig.tank.and_then(|t| t.volume_l).expect("a tank");
        assert!((tank_l / logs.truth.parameters.tank_l - 1.0).abs() < 0.03);
    });
}
